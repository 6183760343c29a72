# SPDX-License-Identifier: GPL-3.0-or-later
"""Series of a study (column `series`): a quantity along time, temperature, humidity, dose or place, and when the
scattering first differs from the start."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sievelight import series as core
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.batches import key_of_quantity, measurement_covariance
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement

if TYPE_CHECKING:
    from sievelight._core import Hysteresis, SeriesChange

# The first of these that varies is what the series runs along; time orders it where it is given.
VARIABLES = ("relative_humidity_percent", "temperature_C", "dose_Gy", "time_s")
START_SHARE = 10  # a tenth of the frames, one at least, makes the start


@dataclass
class SeriesResult:
    """One series: its samples in the order of measurement."""

    name: str
    variable: str  # a column of the table, or "number"
    values: list[float]
    samples: list[SampleResult]
    rows: list[Measurement]
    change: SeriesChange | None = None
    hysteresis: Hysteresis | None = None
    kelvin_nm: list[float] = field(default_factory=list)
    quantity: str = ""

    @property
    def is_map(self) -> bool:
        """Whether its frames stand at places of an X-Y stage."""
        return all("x_mm" in m.values and "y_mm" in m.values for m in self.rows)


def follow_series(
    samples: list[SampleResult], table: list[Measurement], settings: Settings, findings: Findings
) -> list[SeriesResult]:
    """Every series of the table that has two results or more."""
    rows = {m.name: m for m in table}
    groups: dict[str, list[SampleResult]] = {}
    for s in samples:
        name = rows[s.name].text.get("series") if s.name in rows else None
        if name:
            groups.setdefault(name, []).append(s)
    return [
        _one(name, members, [rows[s.name] for s in members], settings, findings)
        for name, members in groups.items()
        if len(members) > 1
    ]


def _one(
    name: str, members: list[SampleResult], rows: list[Measurement], settings: Settings, findings: Findings
) -> SeriesResult:
    times = [m.get("time_s") for m in rows]
    if all(t is not None for t in times) and any(b <= a for a, b in itertools.pairwise(times)):  # type: ignore[operator]
        findings.add(
            "warning",
            name,
            "Time runs backwards or stands still in this series; its frames are taken in the order of time.",
            ", ".join(f"{t:g}" for t in times[:12] if t is not None),
            "Correct time_s, or give repeats of one time one name.",
        )
        order = sorted(range(len(rows)), key=lambda k: times[k] or 0.0)
        members, rows = [members[k] for k in order], [rows[k] for k in order]
    variable, values = _variable(name, rows, findings)
    out = SeriesResult(name, variable, values, members, rows)
    try:
        out.change = core.find_change([s.curve for s in members], start=max(1, len(members) // START_SHARE))
    except SIEVELIGHT_ERRORS as error:
        findings.add("warning", name, f"No change can be looked for in this series: {error}")
    if out.change is not None and out.change.first is not None:
        first = out.change.first
        findings.add(
            "note",
            name,
            f"The scattering of this series changes, from '{members[first].name}' on.",
            f"{variable} {values[first]:g}; {out.change.words}",
            "A phase that condenses changes the contrast while the pores stay: look at the factor on the start's curve "
            "and at whether the shape differs.",
        )
    out.kelvin_nm = [_kelvin(m) for m in rows]
    key = key_of_quantity(members, settings.compare.quantity)
    if key is not None and all(key in s.summary for s in members):
        out.quantity = key
        try:
            out.hysteresis = core.hysteresis(
                values, [s.summary[key].value for s in members], covariance=measurement_covariance(members, key)
            )
        except SIEVELIGHT_ERRORS:
            out.hysteresis = None  # no cycle
    return out


def _variable(name: str, rows: list[Measurement], findings: Findings) -> tuple[str, list[float]]:
    for column in VARIABLES:
        found = [m.get(column) for m in rows]
        given = [v for v in found if v is not None]
        if not given:
            continue
        if len(given) < len(rows):
            findings.add(
                "warning",
                name,
                f"{column} is missing in {len(rows) - len(given)} of {len(rows)} rows of this series; it is not used.",
                "",
                f"Fill {column} in every row.",
            )
        elif len(set(given)) > 1:
            return column, given
    return "number", [float(k) for k in range(len(rows))]


def _kelvin(m: Measurement) -> float:
    humidity = m.get("relative_humidity_percent")
    if humidity is None or not 0 < humidity < 100:
        return math.nan
    temperature = m.get("temperature_C")
    try:
        return float(core.kelvin_radius_nm(humidity, temperature_C=25.0 if temperature is None else temperature))
    except SIEVELIGHT_ERRORS:
        return math.nan


COLUMNS = (
    "series", "name", "variable", "variable_value", "quantity", "value", "value_low", "value_high", "value_u",
    "contrast_ratio", "contrast_ratio_u", "p_change", "changed", "p_shape", "another_shape", "kelvin_radius_nm",
)  # fmt: skip


def series_rows(found: list[SeriesResult]) -> list[list[Any]]:
    """Rows of series.csv, one a frame."""
    rows = []
    for s in found:
        for k, sample in enumerate(s.samples):
            e = sample.summary.get(s.quantity)
            f = s.change.frames[k] if s.change is not None else None
            rows.append(
                [s.name, sample.name, s.variable, s.values[k], s.quantity or None]
                + ([None] * 4 if e is None else [e.value, e.band95.low, e.band95.high, e.u])
                + (
                    [None] * 6
                    if f is None or np.isnan(f.contrast_ratio.value)
                    else [f.contrast_ratio.value, f.contrast_ratio.u, f.p_change, f.changed, f.p_shape, f.another_shape]
                )
                + [s.kelvin_nm[k]]
            )
    return rows
