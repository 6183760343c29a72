# SPDX-License-Identifier: GPL-3.0-or-later
"""What other choices would have made of a sample's sizes: the price list beside its bands."""

from __future__ import annotations

import math
from typing import Any

from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.sensitivity import what_if
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult
from sievelight.study.sample import inversion_options
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement

DRAWS = 800  # of each choice: shifts to about a tenth of the standard uncertainty


def is_priced(settings: Settings, m: Measurement, samples: list[Measurement]) -> bool:
    """Whether the study wants this sample's price list: all, or the first sample's only."""
    wanted = settings.distribution.what_if
    return wanted == "all" or (wanted == "first" and bool(samples) and m is samples[0])


def price_choices(
    settings: Settings, m: Measurement, result: SampleResult, findings: Findings, *, slit: Any = None
) -> None:
    """Invert under neighbouring choices and keep the shifts in `result.details`; the dearest becomes a finding."""
    if result.size is None:
        return
    options = inversion_options(settings, m, result.curve.unit, Findings(), slit=slit)
    try:
        priced = what_if(result.curve, draws=DRAWS, **options)
    except SIEVELIGHT_ERRORS as error:
        findings.add("note", m.name, f"The price of other choices was not found: {error}")
        return
    result.details["what_if"] = priced.rows
    x50 = result.size.x50_nm
    # Another shape or interference moves the sizes of every good curve, and the table says by how much; a choice of range
    # or window should not.
    known = [r for r in priced.rows if r["kind"] == "choice" and math.isfinite(r["x50_nm"])]
    if not known or not x50.u > 0:
        return
    worst = max(known, key=lambda r: abs(r["x50_nm"]))
    if abs(worst["x50_nm"]) * x50.value > 2 * (x50.band95.high - x50.value):
        findings.add(
            "note",
            m.name,
            "A choice moves x50 by more than twice its 95 % band.",
            f"{worst['choice']}: {100 * worst['x50_nm']:+.2g} %; the band is {100 * (x50.band95.low / x50.value - 1):+.2g} … "
            f"{100 * (x50.band95.high / x50.value - 1):+.2g} %",
            "The band holds noise and smoothness only. Say in words why the choice was made; differences between samples "
            "treated alike are less affected.",
        )
