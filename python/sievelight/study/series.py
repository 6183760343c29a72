# SPDX-License-Identifier: GPL-3.0-or-later
"""Series of a study (column `series`): a quantity along time, temperature, humidity, dose or place, when the scattering
first differs from the start, and whether water in the start's own pores explains it."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sievelight import distribution, material
from sievelight import series as core
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.batches import key_of_quantity, measurement_covariance
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult
from sievelight.study.sample import contrast_of, inversion_options
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement

if TYPE_CHECKING:
    from sievelight._core import Filling, Hysteresis, SeriesChange, SizeDistribution

# The first of these that varies is what the series runs along; time orders it where it is given.
VARIABLES = ("relative_humidity_percent", "temperature_C", "dose_Gy", "time_s")
START_SHARE = 10  # a tenth of the frames, one at least, makes the start
SAME_SHARE = 0.005  # of the variable's range: neighbours this near are repeats of one value
FILLED_SHARE = "filled_share"  # as a loop's quantity: the share of the pores' volume that holds water


@dataclass
class Loop:
    """One cycle of a series and the area between its branches."""

    quantity: str  # a summary column, or FILLED_SHARE
    first: int  # frames of the cycle, both included
    last: int
    hysteresis: Hysteresis


@dataclass
class SeriesResult:
    """One series: its samples in the order of measurement."""

    name: str
    variable: str  # a column of the table, or "number"
    values: list[float]
    samples: list[SampleResult]
    rows: list[Measurement]
    change: SeriesChange | None = None
    filling: Filling | None = None  # where water may condense and the contrast is known
    start_size: SizeDistribution | None = None  # of the start, as the filling uses it
    loops: list[Loop] = field(default_factory=list)
    kelvin_nm: list[float] = field(default_factory=list)
    quantity: str = ""

    @property
    def hysteresis(self) -> Hysteresis | None:
        """Of the first cycle, in the quantity that the series follows."""
        return next((loop.hysteresis for loop in self.loops if loop.quantity == self.quantity), None)

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
    start = max(1, len(members) // START_SHARE)
    try:
        out.change = core.find_change([s.curve for s in members], start=start)
    except SIEVELIGHT_ERRORS as error:
        findings.add("warning", name, f"No change can be looked for in this series: {error}")
    out.kelvin_nm = [_kelvin(m) for m in rows]
    if out.change is not None and out.change.first is not None:
        _fill(out, start, settings, findings)
        _say_change(out, findings)
    key = key_of_quantity(members, settings.compare.quantity)
    if key is not None and all(key in s.summary for s in members):
        out.quantity = key
        out.loops += _loops(
            values, key, [s.summary[key].value for s in members], lambda: measurement_covariance(members, key)
        )
    if out.filling is not None:
        filling = out.filling
        out.loops += _loops(
            values, FILLED_SHARE, [f.filled_share.value for f in filling.frames], lambda: filling.share_covariance
        )
    return out


def _say_change(series: SeriesResult, findings: Findings) -> None:
    change, filling = series.change, series.filling
    if change is None or change.first is None:
        return
    refused = filling is not None and any(f.refused for f in filling.frames)
    scaled = not any(f.another_shape for f in change.frames)
    what = f"The scattering of this series changes, from '{series.samples[change.first].name}' on"
    mend = (
        "A phase that condenses changes the contrast while the pores stay: look at the factor on the start's curve "
        "and at whether the shape differs."
    )
    if filling is not None and not refused and not scaled:
        what += (
            "; water that fills the start's pores from the smallest up explains it, and the pores may be as they were"
        )
        mend = (
            "Hold the filled sizes beside Kelvin's radius in series.csv. The film on the walls of pores not yet filled is "
            "not part of the model."
        )
    elif refused:
        what += "; water that fills the start's pores from the smallest up does not explain it"
        mend = (
            "Other pores may fill first, necks may hold water back, or the pores have changed: look whether the last dry "
            "frame is as the first."
        )
    words = change.words + (f"; {filling.words}" if filling is not None else "")
    findings.add(
        "warning" if refused else "note",
        series.name,
        what + ".",
        f"{series.variable} {series.values[change.first]:g}; {words}",
        mend,
    )


def _fill(out: SeriesResult, start: int, settings: Settings, findings: Findings) -> None:
    """Whether water in the start's own pores gives the later curves: where the table says that water is about, and the
    contrast against empty pores is known."""
    humid = out.variable == "relative_humidity_percent"
    wet = all("water" in m.text.get("pore_fluid", "").lower() for m in out.rows)
    curves = [s.curve for s in out.samples]
    contrast = contrast_of(settings, out.rows[0], Findings())
    if not (humid or wet) or contrast is None or out.change is None or any(c.has_slit() for c in curves):
        return
    water = material.scattering_length_density("water", wavelength_nm=settings.instrument.wavelength_nm).real
    try:
        first = core.start_of_series(curves, start=start)
        options = inversion_options(settings, out.rows[0], first.unit, Findings()) | {"method": "sampled"}
        out.start_size = distribution.invert(first, **options)
        out.filling = core.find_filling(
            curves,
            out.start_size,
            out.change,
            start=start,
            filled_ratio=(1 - water / contrast) ** 2,
            shape=options["shape"],
            interaction=options["interaction"],
            power_exponent=options["power_exponent"],
        )
    except SIEVELIGHT_ERRORS as error:
        findings.add("note", out.name, f"Whether water fills the pores of this series was not found: {error}")


def _loops(values: list[float], quantity: str, y: list[float], covariance: Any) -> list[Loop]:
    """Every cycle's hysteresis; none where the variable does not turn back."""
    x, out = np.asarray(values, dtype=float), []
    same_within = SAME_SHARE * float(np.ptp(x))
    found = core.cycles(x, same_within=same_within)
    if not found:
        return []
    v = np.asarray(covariance())
    for first, last in found:
        part = slice(first, last + 1)
        try:
            h = core.hysteresis(x[part], y[part], covariance=v[part, part], same_within=same_within)
        except SIEVELIGHT_ERRORS:
            continue  # branches without a common range
        out.append(Loop(quantity, first, last, h))
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
    "contrast_ratio", "contrast_ratio_u", "p_change", "changed", "p_shape", "another_shape", "filled_share",
    "filled_share_low", "filled_share_high", "filled_share_u", "filled_up_to_nm", "filled_up_to_nm_low",
    "filled_up_to_nm_high", "p_filling", "filling_refused", "kelvin_radius_nm",
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
                + _filling_cells(s, k)
                + [s.kelvin_nm[k]]
            )
    return rows


def _filling_cells(s: SeriesResult, k: int) -> list[Any]:
    if s.filling is None:
        return [None] * 9
    f = s.filling.frames[k]
    share, size = f.filled_share, f.filled_up_to_nm
    # Below the first filled pore a diameter says nothing: it is the lower end of the window.
    known = share.band95.high > 0 and share.u > 0
    return [share.value, share.band95.low, share.band95.high, share.u] + (
        [size.value, size.band95.low, size.band95.high] if known else [None] * 3
    ) + [f.p_filling, f.refused]  # fmt: skip
