# SPDX-License-Identifier: GPL-3.0-or-later
"""What follows the comparison of batches: further quantities, whole distributions, recipes, and the next experiment."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sievelight import _core
from sievelight.compare import compare_batches, distribution_distance
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.batches import compare_quantity, key_of_quantity, measurement_covariance, usable_for
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult
from sievelight.study.settings import Settings

if TYPE_CHECKING:
    from sievelight.compare import BatchComparison, BatchPair, DistributionDistance


@dataclass
class Further:
    """Beside the verdict: all empty where nothing was compared."""

    quantities: list[BatchComparison] = field(default_factory=list)  # of [compare] also
    distances: dict[str, DistributionDistance] = field(default_factory=dict)  # batch -> distance to the reference
    routes: BatchComparison | None = None
    next_experiment: dict[str, str] = field(default_factory=dict)  # undecided batch -> what would decide it, in words


def follow(
    samples: list[SampleResult], comparison: BatchComparison | None, settings: Settings, findings: Findings
) -> Further:
    """Everything beside the verdict; what cannot be done becomes a finding."""
    out = Further()
    if comparison is None:
        return out
    for quantity in settings.compare.also:
        key, usable = usable_for(samples, quantity)
        try:
            out.quantities.append(compare_quantity(usable, key, quantity, settings))
        except SIEVELIGHT_ERRORS as error:
            findings.add_error("comparison", f"study.toml [compare] also: {quantity}", error)
    _, used = usable_for(samples, settings.compare.quantity)
    out.distances = _distances(used, comparison, findings)
    out.routes = _routes(used, comparison, settings, findings)
    for pair in comparison.pairs:
        if pair.verdict == "undecided":
            words = _next(used, comparison, pair, settings)
            if words:
                out.next_experiment[pair.batch] = words
                findings.add(
                    "note",
                    pair.batch,
                    f"Whether it has the pores of {pair.reference} is undecided.",
                    pair.reason,
                    words,
                )
    return out


def _distances(
    used: list[SampleResult], comparison: BatchComparison, findings: Findings
) -> dict[str, DistributionDistance]:
    sized = [s for s in used if s.size is not None and s.size.method == "sampled"]
    reference = [s.size for s in sized if s.batch == comparison.reference and s.size is not None]
    out = {}
    for pair in comparison.pairs:
        batch = [s.size for s in sized if s.batch == pair.batch and s.size is not None]
        if not reference or not batch:
            continue
        try:
            out[pair.batch] = distribution_distance(reference, batch)
        except SIEVELIGHT_ERRORS as error:
            findings.add("note", pair.batch, f"No distance between distributions: {error}")
    return out


def _routes(
    used: list[SampleResult], comparison: BatchComparison, settings: Settings, findings: Findings
) -> BatchComparison | None:
    """Several batches of one recipe speak for the recipe: their means are its samples."""
    routes = {b.batch: sorted({s.route for s in used if s.batch == b.batch and s.route}) for b in comparison.batches}
    mixed = [batch for batch, found in routes.items() if len(found) > 1]
    for batch in mixed:
        findings.add(
            "warning",
            batch,
            f"Samples of one batch have different routes ({', '.join(routes[batch])}); recipes are not compared.",
            "",
            "Write one route for every sample of a batch.",
        )
    named = {batch: found[0] for batch, found in routes.items() if len(found) == 1}
    if mixed or len(set(named.values())) < 2:
        return None
    key = key_of_quantity(used, settings.compare.quantity)
    if key is None:
        return None
    batches = [b for b in comparison.batches if b.batch in named]
    reference = named.get(comparison.reference)
    if reference is None:
        return None
    means, covariance = _core.means_of_batches(
        batches=[s.batch for s in used],
        values=[s.summary[key].value for s in used],
        covariance=measurement_covariance(used, key),
        comparison=comparison,
        wanted=[b.batch for b in batches],
    )
    try:
        return compare_batches(
            names=[b.batch for b in batches],
            batches=[named[b.batch] for b in batches],
            values=means,
            covariance=covariance,
            quantity=settings.compare.quantity,
            margin_percent=settings.compare.margin_percent,
            reference=reference,
            alpha=settings.compare.alpha,
        )
    except SIEVELIGHT_ERRORS as error:
        findings.add_error("comparison", "recipes (column route)", error)
        return None


def _next(used: list[SampleResult], comparison: BatchComparison, pair: BatchPair, settings: Settings) -> str:
    """How many samples a batch a new experiment needs, as a sentence; empty where nothing is known of the scatter."""
    key = key_of_quantity(used, settings.compare.quantity)
    if key is None:
        return ""
    known: dict[str, Any] | None = _core.errors_for_sizing(
        batches=[s.batch for s in used],
        values=[s.summary[key].value for s in used],
        covariance=measurement_covariance(used, key),
        comparison=comparison,
        batch=pair.batch,
    )
    if known is None:
        return ""
    equal = _core.size_experiment(**known, power=settings.compare.power)
    seen_now = math.log1p(pair.difference_percent / 100)
    as_seen = _core.size_experiment(**known, difference=seen_now, power=settings.compare.power)
    if equal.limited_by_shared:
        return (
            "More samples do not decide it: what the batches do not share (calibration, background) is too uncertain. "
            "Measure them together, under one calibration."
        )
    chance = f"{100 * settings.compare.power:g} % probability"
    same = f"{equal.samples} samples a batch" if equal.samples else "more than 60 samples a batch"
    seen = f"{as_seen.samples}" if as_seen.samples else "more than 60"
    if pair.look > 0:
        looks = settings.compare.looks
        if pair.look < len(looks):
            return (
                f"Look {pair.look} of {len(looks)} was planned and does not decide it yet: the next one comes at "
                f"{looks[pair.look]} samples a batch, and none before."
            )
    return (
        f"A new experiment of {same}, its number fixed beforehand, decides with {chance} if the batches are the same; "
        f"{seen} if they differ by what is seen now ({pair.difference_percent:+.1f} %), taking the upper limit of a scatter "
        f"that {known['scatter_degrees'] + 2:g} samples show. Do not add samples to this one "
        f"until a verdict appears: that makes it false too often."
    )
