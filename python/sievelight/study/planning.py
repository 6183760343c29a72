# SPDX-License-Identifier: GPL-3.0-or-later
"""`sievelight plan study.toml`: from the study's pilot or its expected sample to exposures and a configuration."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sievelight import compare, plan
from sievelight.errors import input_error
from sievelight.plan import ExposurePlan, Judgement
from sievelight.study.findings import Findings
from sievelight.study.outlooks import of_expected, of_pilot
from sievelight.study.settings import Plan, Settings, read_settings

AS_IT_IS = "as it is"


@dataclass(frozen=True)
class Option:
    """One configuration: what it can show and how long it takes."""

    name: str
    judgement: Judgement
    exposure: ExposurePlan

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {"name": self.name, "configuration": self.judgement.to_dict(), "exposure": self.exposure.to_dict()}


@dataclass(frozen=True)
class StudyPlan:
    """The plan of a study: the configurations, the best first.

    Examples
    --------
    >>> import sievelight as sl
    >>> plan = sl.plan_study(sl.examples.study("invented"))
    >>> isinstance(plan, sl.StudyPlan), plan.best.name
    (True, 'as it is')
    >>> sorted(plan.to_dict())
    ['asked', 'basis', 'best', 'notes', 'options', 'refusal', 'title']
    """

    title: str
    asked: str  # the target in words
    basis: str  # pilot or expected sample
    options: list[Option]
    refusal: str = ""  # where the target is out of reach whatever the exposure
    notes: list[str] = field(default_factory=list)

    @property
    def best(self) -> Option | None:
        """The configuration that serves best: it reaches the sizes and takes the least time."""
        return self.options[0] if self.options else None

    def lines(self) -> list[str]:
        """The plan in sentences, the answer first."""
        out = [f"{self.title}: {self.asked}, from {self.basis}."]
        if self.refusal:
            return [*out, self.refusal, *self.notes]
        for option in self.options:
            if len(self.options) > 1:
                out.append(f"Configuration '{option.name}'" + (" serves best." if option is self.best else ":"))
            out += [f"  {line}" for line in (*option.exposure.lines(), *option.judgement.lines())]
        return out + self.notes

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "title": self.title,
            "asked": self.asked,
            "basis": self.basis,
            "refusal": self.refusal,
            "best": self.best.name if self.best else None,
            "options": [option.to_dict() for option in self.options],
            "notes": self.notes,
        }

    def plot(self, ax: Any = None) -> Any:
        """Uncertainty against exposure in each configuration; returns the axes. InputError where there is nothing to draw."""
        from sievelight.plot_plan import plot_plan

        if not self.options:
            raise input_error("the plan has no exposure to draw.", "See its lines: the target is out of reach.")
        return plot_plan({option.name: option.exposure for option in self.options}, ax=ax)

    def __repr__(self) -> str:
        return "\n".join(["<StudyPlan", *(f"  {line}" for line in self.lines()), ">"])


def plan_study(path: str | Path, *, progress: Callable[[str], None] | None = None) -> StudyPlan:
    """Say beforehand how long each sample and its background must be exposed, and in which configuration.

    Parameters
    ----------
    path : the study file. Its [plan] names the target and either a pilot (a `sample` row of the table, exposed for a short
        time) or the expected sizes.
    progress : called with what is being done.

    Returns
    -------
    StudyPlan

    Raises
    ------
    InputError
        No [plan], no target or two, no pilot in the table, numbers out of range.

    Examples
    --------
    >>> import sievelight as sl
    >>> plan = sl.plan_study(sl.examples.study("invented"))
    >>> plan.asked, plan.best.exposure.exposure_s > 0
    ('x50 within 0.5 % (standard uncertainty)', True)
    """
    path = Path(path)
    settings = read_settings(path)
    p = settings.plan
    tell = progress or (lambda what: None)
    _check(p, settings.compare.looks, path.name)
    target, asked, differences, sizing = _target(p, settings)
    title = settings.study.title
    if target is None:
        return StudyPlan(title, asked, "the scatter between samples", [], refusal=_hopeless(p, settings))
    findings = Findings()
    if p.sizes:
        basis = f"an expected {p.family} distribution"
        make = of_expected(settings, findings)
    else:
        tell("reducing the pilot")
        name, make = of_pilot(path, settings, findings)
        basis = f"the pilot '{name}'"
    options = []
    for configuration in [None, *p.configuration]:
        name = AS_IT_IS if configuration is None else configuration.name
        tell(f"simulating measurements, configuration '{name}'")
        outlook, facts = make(configuration)
        exposure = plan.plan_exposure(
            outlook,
            quantity=p.quantity,
            target_percent=target,
            samples_sharing_background=p.samples_sharing_background,
            count_shared_errors=not differences,
            repeats=p.repeats,
            seed=p.seed,
        )
        options.append(Option(name, plan.judge_configuration(outlook, **facts), exposure))
    options.sort(key=lambda o: (o.exposure.total_s is None, not o.judgement.reaches, o.exposure.total_s or math.inf))
    notes = [*sizing, *(f"{f.severity}: {f.measurement}: {f.finding}" for f in findings.items if f.severity != "note")]
    return StudyPlan(title, asked, basis, options, notes=notes)


def _check(p: Plan, looks: list[int], file: str) -> None:
    if (p.target_percent is None) == (p.decide_margin_percent is None):
        raise input_error(
            f"{file}: [plan] has {'no target' if p.target_percent is None else 'two targets'}.",
            "Write target_percent = 1.0 for one sample, or decide_margin_percent = 5.0 with samples_per_batch and "
            "between_sd_percent for a verdict between batches.",
        )
    if p.decide_margin_percent is not None and looks and p.samples_per_batch not in (None, looks[-1]):
        raise input_error(
            f"{file}: [plan] samples_per_batch is {p.samples_per_batch}, and the last of [compare] looks is {looks[-1]}.",
            "Leave samples_per_batch out: the last look says it.",
        )
    if p.decide_margin_percent is not None and (
        (p.samples_per_batch is None and not looks) or p.between_sd_percent is None
    ):
        raise input_error(
            f"{file}: [plan] decide_margin_percent is given without samples_per_batch and between_sd_percent.",
            "Add both; the scatter between samples of one batch comes from earlier batches (0 if there is surely none).",
        )
    if p.sizes and p.pilot:
        raise input_error(f"{file}: [plan] names a pilot and expected sizes.", "Keep one of them.")
    if p.sizes:
        missing = [k for k in ("volume_fraction", "photons_per_s", "thickness_mm") if getattr(p, k) is None]
        if missing:
            raise input_error(
                f"{file}: [plan] has sizes but no {', '.join(missing)}.", "Add them: counts follow from them."
            )
    names = [AS_IT_IS, *(c.name for c in p.configuration)]
    twice = {n for n in names if names.count(n) > 1}
    if twice:
        raise input_error(f"{file}: two configurations are called '{twice.pop()}'.", "Give each its own name.")


def target_of(settings: Settings, file: str) -> tuple[float, bool]:
    """Standard uncertainty of one sample that [plan] asks for (percent), and whether differences are asked for.

    Raises InputError for a [plan] without target, and where the scatter between samples forbids it.
    """
    _check(settings.plan, settings.compare.looks, file)
    target, _, differences, _ = _target(settings.plan, settings)
    if target is None:
        raise input_error(_hopeless(settings.plan, settings), "Plan more samples a batch.")
    return target, differences


def _target(p: Plan, settings: Settings) -> tuple[float | None, str, bool, list[str]]:
    """Standard uncertainty wanted of one sample (percent), the question in words, whether differences are asked for."""
    if p.target_percent is not None:
        return p.target_percent, f"{p.quantity} within {p.target_percent:g} % (standard uncertainty)", False, []
    looks = settings.compare.looks
    margin, between = p.decide_margin_percent, p.between_sd_percent
    n = looks[-1] if looks else p.samples_per_batch
    assert margin is not None and n is not None and between is not None
    asked = f"decide {margin:g} % in {p.quantity} between two batches of {n}"
    if looks:
        asked += f", looked at after {', '.join(map(str, looks[:-1]))} and {looks[-1]} samples"
    own = plan.own_u_to_decide(
        samples_per_batch=n,
        between_sd_percent=between,
        margin_percent=margin,
        alpha=settings.compare.alpha,
        power=settings.compare.power,
        looks=len(looks) or 1,
        spending=settings.compare.spending,
    )
    return (
        own,
        asked,
        True,
        []
        if own is None
        else [
            f"Two equal batches of {n} whose samples scatter by {between:g} % are decided at {margin:g} % with a probability of "
            f"{settings.compare.power:g} when each sample's own error is at most {own:.2g} %. "
            + ("Compare at these looks and at no others" if looks else "Fix the number of samples beforehand")
            + "; batches that are close to the margin stay undecided more often."
        ],
    )


def _hopeless(p: Plan, settings: Settings) -> str:
    sizing = compare.size_experiment(
        between_sd_percent=p.between_sd_percent or 0.0,
        margin_percent=p.decide_margin_percent or 5.0,
        alpha=settings.compare.alpha,
        power=settings.compare.power,
        looks=len(settings.compare.looks) or 1,
        spending=settings.compare.spending,
    )
    n = settings.compare.looks[-1] if settings.compare.looks else p.samples_per_batch
    more = f"{sizing.samples} samples a batch would do" if sizing.samples else "not even 60 samples a batch would do"
    return (
        f"No exposure decides it: samples of one batch scatter by {p.between_sd_percent:g} %, which {n} samples a "
        f"batch cannot average out. With perfect measurements {more}."
    )
