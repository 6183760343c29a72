# SPDX-License-Identifier: GPL-3.0-or-later
"""From the samples' summaries and what their errors share to the comparison of batches."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sievelight.compare import compare_batches
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult, names_quantity
from sievelight.study.settings import Settings
from sievelight.study.shared_errors import covariance_of_all

if TYPE_CHECKING:
    from sievelight.compare import BatchComparison


def measurement_covariance(samples: list[SampleResult], key: str) -> NDArray[np.float64]:
    """(n, n) covariance of a summary's measurement errors: what curves share through their ids, J_a C_ab J_b, and on the
    diagonal the rest of each u².

    The shared part is positive semidefinite by itself; a sample whose u is below it (a quick look's may be) gets it.

    Notes
    -----
    JCGM 100:2008 (GUM) F.1.2.3.
    """
    n = len(samples)
    covariance = np.zeros((n, n))
    known = [i for i, s in enumerate(samples) if key in s.influence]
    if known:
        covariance[np.ix_(known, known)] = covariance_of_all(
            [samples[i].influence[key] for i in known], [samples[i].curve for i in known]
        )
    for i, s in enumerate(samples):
        covariance[i, i] = max(covariance[i, i], s.summary[key].u ** 2)
    return covariance


def key_of_quantity(samples: list[SampleResult], quantity: str) -> str | None:
    """The summary column of a quantity written with or without its unit."""
    for sample in samples:
        for key in sample.summary:
            if names_quantity(quantity, key):
                return key
    return None


def usable_for(samples: list[SampleResult], quantity: str) -> tuple[str | None, list[SampleResult]]:
    """The summary column of a quantity, and the samples of batches that have it with an uncertainty."""
    batched = [s for s in samples if s.batch]
    key = key_of_quantity(batched, quantity)
    if key is None:
        return None, []
    return key, [
        s
        for s in batched
        if key in s.summary and math.isfinite(s.summary[key].value) and math.isfinite(s.summary[key].u)
    ]


def compare(
    samples: list[SampleResult], settings: Settings, findings: Findings
) -> tuple[BatchComparison | None, list[str]]:
    """Compare the batches that have results; None, with a finding, where that makes no sense."""
    batched = [s for s in samples if s.batch]
    names = list(dict.fromkeys(s.batch for s in batched))
    if len(names) < 2:
        return None, []
    key, usable = usable_for(samples, settings.compare.quantity)
    left_out = [s.name for s in batched if s not in usable]
    if left_out:
        findings.add(
            "warning",
            ", ".join(left_out),
            f"Left out of the comparison: no value of {settings.compare.quantity}.",
            "",
            f"Quantities that samples have: {', '.join(sorted({k for s in batched for k in s.summary}))}.",
        )
    _check_bins(usable, findings)
    try:
        return compare_quantity(usable, key, settings.compare.quantity, settings), [s.name for s in usable]
    except SIEVELIGHT_ERRORS as error:
        findings.add_error("comparison", "study.toml [compare]", error)
        return None, []


def compare_quantity(usable: list[SampleResult], key: str | None, quantity: str, settings: Settings) -> Any:
    """The comparison of one summary; InputError as `compare_batches`."""
    c = settings.compare
    return compare_batches(
        names=[s.name for s in usable],
        batches=[s.batch for s in usable],
        values=[s.summary[key].value for s in usable] if key else [],
        covariance=measurement_covariance(usable, key) if key else None,
        quantity=quantity,
        margin_percent=c.margin_percent,
        reference=c.reference or next((s.batch for s in usable), ""),
        alpha=c.alpha,
        scatter=c.scatter,
        single_samples=c.single_samples,
        looks=c.looks,
        spending=c.spending,
    )


def _check_bins(samples: list[SampleResult], findings: Findings) -> None:
    """Compared samples share their q bins and size window; where one lost bins, a referee must know."""
    if not samples:
        return
    first = samples[0]
    for s in samples[1:]:
        same = s.curve.q_low_per_nm.size == first.curve.q_low_per_nm.size and np.array_equal(
            s.curve.q_low_per_nm, first.curve.q_low_per_nm
        )
        if not same:
            findings.add(
                "warning",
                s.name,
                f"Its curve has other q bins than that of {first.name}; errors they share may not cancel.",
                f"{s.curve.q_low_per_nm.size} against {first.curve.q_low_per_nm.size} bins",
                "Look for saturated pixels that emptied bins, or narrow [reduce] q_min_per_nm and q_max_per_nm.",
            )
