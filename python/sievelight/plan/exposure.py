# SPDX-License-Identifier: GPL-3.0-or-later
"""How long: simulated pilots give the error at a few exposures, a power law through them the time for a target."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sievelight import _core, compare, distribution
from sievelight._core import ExposureLaw, SummaryRates
from sievelight.errors import NumericalError, input_error, nearest
from sievelight.plan.outlook import KERNEL_KEYS, Outlook

QUANTITIES = {
    "x10": "x10_nm",
    "x50": "x50_nm",
    "x90": "x90_nm",
    "mean": "mean_nm",
    "relative_width": "relative_width",
    "phi_one_minus_phi": "phi_one_minus_phi",
    "volume_fraction": "volume_fraction",
    "specific_surface": "specific_surface_m2_per_cm3",
}
BEAM_DAMAGE = (
    "A longer exposure is a larger dose: X-rays damage organic and wet samples. Take it in short frames, compare the "
    "first with the last, and stop where they differ."
)
FEW_COUNTS = 10  # below it the normal distribution misstates Poisson's (common practice)
FARTHEST = 1e4  # how far from the first guess an exposure is looked for


def attribute_of(quantity: str) -> str:
    """The member of a SizeDistribution that a quantity names; InputError for an unknown one."""
    if quantity in QUANTITIES.values():
        return quantity
    if quantity not in QUANTITIES:
        raise input_error(f"the quantity to plan for is '{quantity}'.", nearest(quantity, QUANTITIES))
    return QUANTITIES[quantity]


@dataclass(frozen=True)
class Foretold:
    """What simulated measurements of one exposure gave, relative to the quantity."""

    exposure_s: float
    background_s: float
    value: float  # mean of the quantity
    stated_percent: float  # uncertainty that the inversion states from counts (root mean square)
    achieved_percent: float  # scatter that its linear response to the counting noise makes
    shared_percent: float  # of the coherent causes: no exposure removes it
    rates: SummaryRates  # relative variance x seconds
    repeats: int


def simulate(
    outlook: Outlook,
    *,
    quantity: str = "x50",
    exposure_s: float,
    background_s: float | None = None,
    repeats: int = 4,
    seed: int = 1,
) -> Foretold:
    """Invert simulated measurements of an exposure with the method that will be used on the real ones.

    Parameters
    ----------
    outlook : from `pilot_measurement` or `expected_measurement`.
    quantity : as of `plan_exposure`.
    exposure_s, background_s : seconds of the sample and of its background; the same where the latter is absent.
    repeats, seed : how many are simulated, and their noise.

    Returns
    -------
    Foretold
        `stated_percent` is what the report will say and what verdicts use; `achieved_percent` is what repeated
        measurements will scatter by, mostly a little less.

    Raises
    ------
    InputError
        An unknown quantity, or one that this measurement does not give.
    NumericalError
        The exposure is too short for any answer.

    Examples
    --------
    >>> import sievelight as sl
    >>> pilot = sl.plan.pilot_measurement(sl.examples.curve(), exposure_s=20.0, method="evidence")
    >>> short, long = (sl.plan.simulate(pilot, exposure_s=t, repeats=2) for t in (5.0, 500.0))
    >>> long.stated_percent < short.stated_percent
    True
    """
    name = attribute_of(quantity)
    t_b = background_s or exposure_s
    rng = np.random.default_rng([seed, *np.array([exposure_s]).view(np.uint32).tolist()])  # another for each exposure
    options = dict(outlook.inversion) | {"look_for_order": False}
    model = ("diameter_nm", "q_range_per_nm", *KERNEL_KEYS)
    kernel = distribution.make_kernel(
        outlook.curve(exposure_s, t_b), **{key: options[key] for key in model if key in options}
    )
    stated, response, floors, values = [], [], [], []
    sample, background = [], []
    for k in range(repeats):
        curve = outlook.curve(exposure_s, t_b, rng=rng)
        size = distribution.invert(curve, kernel=kernel, seed=seed + k, **options)
        estimate = getattr(size, name)
        if not math.isfinite(estimate.value) or estimate.value == 0:
            raise input_error(
                f"the simulated measurement gives no {quantity}.", "Plan for x50, or give contrast and 1/cm."
            )
        influence = np.asarray(size.influence[name]) / estimate.value
        rates = _core.summary_rates(outlook.rates, influence)
        floor2 = float(np.sum((influence * outlook.rates.floor) ** 2))
        values.append(estimate.value)
        stated.append(estimate.u / estimate.value)
        response.append(rates.variance(sample_s=exposure_s, background_s=t_b) + floor2)
        coherent = sum(
            float(influence @ np.asarray(c.u)) ** 2 for c in outlook.expected.causes.values() if c.kind == "coherent"
        )
        floors.append(coherent)
        sample.append(rates.sample)
        background.append(rates.background)
    return Foretold(
        exposure_s=exposure_s,
        background_s=t_b,
        value=float(np.mean(values)),
        stated_percent=100 * float(np.sqrt(np.mean(np.square(stated)))),
        achieved_percent=100 * float(np.sqrt(np.mean(response))),
        shared_percent=100 * float(np.sqrt(np.mean(floors))),
        rates=SummaryRates(sample=float(np.mean(sample)), background=float(np.mean(background))),
        repeats=repeats,
    )


@dataclass(frozen=True)
class ExposurePlan:
    """How long to expose each sample and the background, and what that will give."""

    quantity: str
    value: float
    target_percent: float  # standard uncertainty of one sample's quantity
    exposure_s: float | None  # of each sample; None where no exposure reaches the target
    background_s: float | None  # of the background they share; None without one, or without an exposure
    split: float  # background over sample
    samples: int
    stated_percent: float  # at that exposure, counts and shared errors
    achieved_percent: float  # scatter between repeats
    shared_percent: float  # of calibration; in every sample alike
    law: ExposureLaw  # of the stated counting part, percent against seconds, at this split
    points: list[Foretold] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def total_s(self) -> float | None:
        """Beam time of all samples and their background."""
        return None if self.exposure_s is None else self.samples * self.exposure_s + (self.background_s or 0.0)

    def lines(self) -> list[str]:
        """The plan in sentences."""
        if self.exposure_s is None:
            return [
                f"No exposure gives {self.quantity} with a standard uncertainty of {self.target_percent:.3g} %.",
                *self.warnings,
            ]
        out = [
            f"Expose each sample for {duration(self.exposure_s)}"
            + (
                f" and the background that {self.samples} sample{'s' if self.samples > 1 else ''} share{'' if self.samples > 1 else 's'} for {duration(self.background_s)} ({self.split:.2f} times as long)"
                if self.background_s
                else ""
            )
            + f": {self.quantity} = {self.value:.4g} with a standard uncertainty of {self.stated_percent:.2g} % "
            f"(95 %: ±{1.96 * self.stated_percent:.2g} %). Together {duration(self.total_s or 0.0)} of beam.",
            f"Repeated measurements will scatter by {self.achieved_percent:.2g} %; the uncertainty falls as exposure^-{self.law.b:.2f} "
            f"({sum(p.repeats for p in self.points)} simulated measurements).",
        ]
        return out + self.warnings

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        names = ("quantity", "value", "target_percent", "exposure_s", "background_s", "split", "samples", "total_s", "stated_percent", "achieved_percent", "shared_percent", "warnings")  # fmt: skip
        return {name: getattr(self, name) for name in names} | {
            "law": {"a_percent": self.law.a, "b": self.law.b, "floor_percent": self.law.floor},
            "simulated": [
                {
                    "exposure_s": p.exposure_s,
                    "background_s": p.background_s,
                    "stated_percent": p.stated_percent,
                    "achieved_percent": p.achieved_percent,
                    "repeats": p.repeats,
                }
                for p in self.points
            ],
        }

    def __repr__(self) -> str:
        return "\n".join(["<ExposurePlan", *(f"  {line}" for line in self.lines()), ">"])


def duration(seconds: float | None) -> str:
    """Seconds as a person reads them off a clock."""
    if seconds is None:
        return "no time"
    if seconds < 120:
        return f"{seconds:.3g} s"
    return f"{seconds / 60:.3g} min" if seconds < 7200 else f"{seconds / 3600:.3g} h"


def own_u_to_decide(
    *,
    samples_per_batch: int,
    between_sd_percent: float,
    margin_percent: float = 5.0,
    alpha: float = 0.05,
    power: float = 0.8,
    difference_percent: float = 0.0,
    looks: int = 1,
    spending: compare.SpendingName = "obrien_fleming",
) -> float | None:
    """The largest error of one sample (its own, percent) with which two batches of this many samples are decided.

    looks, spending : where the comparison is looked at several times, planned beforehand; the last look has all samples.
    From `size_experiment`; the error that the batches share (calibration, background) is not in it.

    Parameters
    ----------
    samples_per_batch : 2 or more.
    between_sd_percent : scatter between samples of a batch, percent.
    margin_percent, alpha, power, difference_percent : as of :func:`sievelight.compare.size_experiment`.

    Returns
    -------
    float or None
        Percent; None where the scatter between samples alone forbids it: more exposure does not help then, more samples do.

    Raises
    ------
    InputError
        Fewer than two samples, or a negative scatter.

    Examples
    --------
    >>> import sievelight as sl
    >>> 1.0 < sl.plan.own_u_to_decide(samples_per_batch=4, between_sd_percent=0.5) < 3.0
    True
    """
    if samples_per_batch < 2:
        raise input_error(f"samples_per_batch is {samples_per_batch}.", "A batch needs two samples at least.")
    if not between_sd_percent >= 0:
        raise input_error(
            f"between_sd_percent is {between_sd_percent}.", "Give the scatter between samples, in percent."
        )

    def decided(own_percent: float) -> bool:
        sizing = compare.size_experiment(
            between_sd_percent=between_sd_percent,
            own_u_percent=own_percent,
            margin_percent=margin_percent,
            alpha=alpha,
            power=power,
            difference_percent=difference_percent,
            most_samples=samples_per_batch,
            looks=looks,
            spending=spending,
        )
        return sizing.samples is not None

    low, high = 1e-3 * margin_percent, 3 * margin_percent
    if not decided(low):
        return None
    for _ in range(14):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if decided(middle) else (low, middle)
    return low


def plan_exposure(
    outlook: Outlook,
    *,
    quantity: str = "x50",
    target_percent: float,
    samples_sharing_background: int = 1,
    count_shared_errors: bool = True,
    repeats: int = 4,
    seed: int = 1,
) -> ExposurePlan:
    """The exposure of each sample, and of the background they share, that gives a quantity its target uncertainty.

    Measurements of a quarter, once and four times an exposure are simulated and inverted as the real ones will be; a
    power law through the stated uncertainties gives the time, and the three move to it until it lies between them.
    The time is split by t_b/t_s = √(n B/A), A and B the variance rates of sample and background in the quantity.

    Parameters
    ----------
    outlook : from `pilot_measurement` or `expected_measurement`.
    quantity : "x50", "mean", "x10", "x90", "relative_width", "volume_fraction", "specific_surface".
    target_percent : standard uncertainty to reach, percent of the quantity (its 95 % interval is twice as wide a side).
    samples_sharing_background : samples that subtract the same background.
    count_shared_errors : hold calibration's errors, which the pilot's curve carries, against the target. False for
        differences between samples of one calibration.
    repeats, seed : simulated measurements for each exposure.

    Returns
    -------
    ExposurePlan
        `exposure_s` None, with the reason among `warnings`, where no exposure reaches the target.

    Raises
    ------
    InputError
        An unknown quantity, a target not above zero, no samples. NumericalError where nothing can be inverted.

    Examples
    --------
    >>> import sievelight as sl
    >>> pilot = sl.plan.pilot_measurement(sl.examples.curve(), exposure_s=20.0, method="evidence")
    >>> plan = sl.plan.plan_exposure(pilot, target_percent=0.3, repeats=1)
    >>> plan.quantity, plan.exposure_s > 0, plan.background_s
    ('x50', True, None)
    """
    if not target_percent > 0:
        raise input_error(f"the target is {target_percent} %.", "Give the standard uncertainty wanted, above zero.")
    if samples_sharing_background < 1:
        raise input_error(f"{samples_sharing_background} samples share the background.", "Give a whole number from 1.")
    n = samples_sharing_background

    def at(seconds: float, ratio: float, count: int = repeats) -> Foretold:
        return simulate(
            outlook,
            quantity=quantity,
            exposure_s=seconds,
            background_s=ratio * seconds if outlook.has_background else None,
            repeats=count,
            seed=seed,
        )

    t = outlook.exposure_s
    ratio = 0.0
    if outlook.has_background:
        for _ in range(8):  # a first guess so short that it shows nothing is made longer
            try:
                ratio = _core.best_split(at(t, outlook.background_s / outlook.exposure_s, 1).rates, samples=n)
                break
            except NumericalError:
                t *= 4
    points: list[Foretold] = []
    answer: float | None = None
    law = floor = failure = None
    for _ in range(8):
        used = ratio
        try:
            points = [at(t * step, used) for step in (0.25, 1.0, 4.0)]
        except NumericalError as error:
            t, failure = 4 * t, error
            continue
        if outlook.has_background:
            ratio = _core.best_split(_mean_rates(points), samples=n)
        floor = float(np.mean([p.shared_percent for p in points])) if count_shared_errors else 0.0
        law = _core.fit_exposure_law([p.exposure_s for p in points], [p.stated_percent for p in points], floor=floor)
        answer = law.exposure_s(target_percent)
        near = answer is None or t / 4 <= answer <= t * 4
        # The best split is flat: 15 % off costs less than 1 % of the time.
        if near and (not outlook.has_background or abs(math.log(ratio / used)) < 0.15):
            ratio = used
            break
        if answer is not None:
            t = float(np.clip(answer, t / 64, t * 64))
        if not outlook.exposure_s / FARTHEST <= t <= outlook.exposure_s * FARTHEST:
            answer = None
            break
    if law is None or floor is None:
        assert failure is not None
        raise failure
    warnings = _warnings(outlook, law, answer, target_percent, points)
    when = answer if answer is not None else t
    scatter = _core.fit_exposure_law([p.exposure_s for p in points], [p.achieved_percent for p in points])
    return ExposurePlan(
        quantity=quantity,
        value=points[1].value,
        target_percent=target_percent,
        exposure_s=answer,
        background_s=ratio * answer if answer is not None and outlook.has_background else None,
        split=ratio,
        samples=n,
        stated_percent=law.u(when),
        achieved_percent=scatter.u(when),
        shared_percent=floor,
        law=law,
        points=points,
        warnings=warnings,
    )


def _mean_rates(points: list[Foretold]) -> SummaryRates:
    """Geometric means over the exposures: what the split between sample and background depends on."""
    return SummaryRates(
        sample=math.exp(np.mean([math.log(p.rates.sample) for p in points])),
        background=math.exp(np.mean([math.log(p.rates.background) for p in points])),
    )


def _warnings(
    outlook: Outlook, law: ExposureLaw, answer: float | None, target_percent: float, points: list[Foretold]
) -> list[str]:
    out = list(outlook.notes)
    if answer is None and law.floor >= target_percent:
        out.append(
            f"Errors that calibration puts into every sample alike make {law.floor:.2g} % alone: calibrate better (distance, "
            "wavelength), or ask for differences between samples, from which they cancel."
        )
    elif answer is None:
        out.append(
            f"Even {duration(points[-1].exposure_s)} leave {points[-1].stated_percent:.2g} %: a brighter configuration, more of the "
            "sample in the beam or a wider q range is what is missing, not time."
        )
    else:
        if not points[0].exposure_s / 2 <= answer <= points[-1].exposure_s * 2:
            out.append(
                f"The answer lies far from what was simulated ({duration(points[0].exposure_s)} to {duration(points[-1].exposure_s)}): "
                "take a pilot nearer to it and plan again."
            )
        until = law.pays_until_s()
        if until is not None and answer > until:
            out.append(
                f"Beyond {duration(until)} longer counting pays little: calibration's errors, {law.floor:.2g} % in every "
                "sample, are then twice the counting error. Differences between samples still gain."
            )
        rates = outlook.counts_per_s
        poor = 0.0 if rates is None else float(np.mean(rates * answer < FEW_COUNTS))
        if rates is not None and poor > 0.25:
            out.append(
                f"After {duration(answer)} {100 * poor:.0f} % of the bins hold fewer than {FEW_COUNTS} counts, and their "
                f"uncertainties mislead: expose for {duration(FEW_COUNTS / float(np.quantile(rates, 0.25)))} all the same, or ask for fewer bins."
            )
        if answer > outlook.exposure_s:
            out.append(BEAM_DAMAGE)
    return out
