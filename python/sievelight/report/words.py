# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers and verdicts as sentences."""

from __future__ import annotations

import math
from typing import Any

from sievelight.study.results import StudyResult, names_quantity

# Quantity -> (label, unit).
LABELS = {
    "x10_nm": ("x10", "nm"),
    "x50_nm": ("x50", "nm"),
    "x90_nm": ("x90", "nm"),
    "mean_nm": ("mean diameter", "nm"),
    "relative_width": ("relative width", ""),
    "phi_one_minus_phi": ("φ(1−φ)", ""),
    "volume_fraction": ("volume fraction φ", ""),
    "specific_surface_m2_per_cm3": ("S/V", "m²/cm³"),
    "specific_surface_m2_per_g": ("S/m", "m²/g"),
    "rg_nm": ("Rg", "nm"),
    "porod_constant_per_cm5": ("Porod constant", "cm⁻⁵"),
    "invariant_per_cm4": ("invariant", "cm⁻⁴"),
    "surface_mean_nm": ("mean by surface", "nm"),
    "number_mean_nm": ("mean by number", "nm"),
    "pore_chord_nm": ("mean pore chord", "nm"),
    "number_per_cm3": ("pores per volume", "cm⁻³"),
    "micropore_share": ("micropores (< 2 nm)", ""),
    "mesopore_share": ("mesopores (2–50 nm)", ""),
    "macropore_share": ("macropores (> 50 nm)", ""),
    "spacing_nm": ("spacing of the first peak", "nm"),
    "lattice_nm": ("lattice parameter", "nm"),
    "ordered_pore_nm": ("pore of the lattice", "nm"),
    "wall_nm": ("wall", "nm"),
    "domain_nm": ("domain of order", "nm"),
    "hard_sphere_fraction": ("hard-sphere fraction", ""),
    "power_exponent": ("exponent p", ""),
    "background_per_cm": ("flat background", "cm⁻¹"),
    "azimuthal_amplitude": ("azimuthal amplitude", ""),
    "order_parameter": ("orientation S2", ""),
}


def with_u(value: float, u: float) -> str:
    """'14.02 ± 0.06': the uncertainty with two figures, the value to the same place; a dash where there is none."""
    if not math.isfinite(value):
        return "–"
    if not (math.isfinite(u) and u > 0):
        return f"{value:.4g}"
    if abs(value) >= 1e5 or (0 < abs(value) < 1e-3):
        exponent = math.floor(math.log10(abs(value)))
        scaled = with_u(value / 10.0**exponent, u / 10.0**exponent)
        return f"({scaled})·10{_superscript(exponent)}"
    places = max(0, 1 - math.floor(math.log10(u)))
    return f"{value:.{places}f} ± {u:.{places}f}"


def _superscript(number: int) -> str:
    return str(number).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def interval(low: float, high: float, unit: str = "") -> str:
    """'13.9 … 14.2 nm', to the figures that the interval's width supports."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return "–"
    width = high - low
    places = max(0, 1 - math.floor(math.log10(width))) if width > 0 else 3
    return f"{low:.{places}f} … {high:.{places}f}{' ' + unit if unit else ''}"


def signed_percent(value: float) -> str:
    """'+8.1 %' with a true minus sign."""
    return "–" if not math.isfinite(value) else f"{value:+.1f} %".replace("-", "−")


def percent_interval(low: float, high: float) -> str:
    """'+7.0 … +9.2 %'."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return "–"
    return f"{low:+.1f} … {high:+.1f} %".replace("-", "−")


def label_and_unit(quantity: str) -> tuple[str, str]:
    """A quantity's label and unit for people, by its column name with or without unit."""
    return next((found for key, found in LABELS.items() if names_quantity(quantity, key)), (quantity, ""))


def pair_sentence(pair: Any, result: StudyResult) -> str:
    """One sentence on a pair of batches: the verdict and the difference behind it."""
    quantity, margin = label_and_unit(result.quantity)[0], f"{result.settings.compare.margin_percent:g}"
    difference = (
        f"{quantity} differs by {signed_percent(pair.difference_percent)} "
        f"(95 % interval {percent_interval(pair.difference_percent_low, pair.difference_percent_high)})"
    )
    reference = result.comparison.reference if result.comparison else ""
    if pair.verdict == "equivalent":
        return f"{pair.batch} has the same pores as {reference} within the margin of ±{margin} %: {difference}."
    if pair.verdict == "different":
        return f"{pair.batch} has different pores from {reference}, beyond the margin of ±{margin} %: {difference}."
    return f"Whether {pair.batch} has the same pores as {reference} within ±{margin} % is undecided: {difference}."


def p_value(p: float) -> str:
    """'p = 0.03'; what is below a millionth is said so, because normal tails are not known so far out."""
    return "p < 1e-6" if p < 1e-6 else f"p = {p:.1g}"


# Of a variable, as a sentence gives it.
_WITH_UNIT = {
    "relative_humidity_percent": "{:g} % relative humidity",
    "temperature_C": "{:g} °C",
    "dose_Gy": "{:g} Gy",
    "time_s": "{:g} s",
    "number": "frame {:g}",
}


def series_sentences(series: Any) -> list[str]:
    """What is found in a series: the first change, whether water in the pores explains it, the cycles."""
    change, filling, lines = series.change, series.filling, []
    if change is None:
        lines.append(f"{series.name}.")
    elif change.first is None:
        lines.append(f"{series.name}: {change.words}.")
    else:
        first = change.first
        at = _WITH_UNIT.get(series.variable, series.variable + " {:g}").format(series.values[first])
        lines.append(
            f"{series.name}: the scattering first differs from the start at {at} ({series.samples[first].name}, "
            f"{p_value(change.frames[first].p_change)})."
        )
        if filling is None:
            lines.append(f"{change.words[0].upper()}{change.words[1:]}.")
        else:
            lines.append(f"{filling.words[0].upper()}{filling.words[1:]}.")
    for loop in series.loops:
        label, unit = ("filled share", "") if loop.quantity == "filled_share" else label_and_unit(loop.quantity)
        if filling is not None and loop.quantity != "filled_share":
            continue  # read with the contrast of empty pores, it says less than the filled share
        h = loop.hysteresis.mean_difference
        which = (
            f" of frames {loop.first} to {loop.last}"
            if sum(o.quantity == loop.quantity for o in series.loops) > 1
            else ""
        )
        lines.append(
            f"Second branch less first{which}, {label} on average: {with_u(h.value, h.u)}{' ' + unit if unit else ''} "
            f"({p_value(loop.hysteresis.p_zero)})."
        )
    return lines


def answer(result: StudyResult) -> list[str]:
    """The answer first: a sentence a pair, or the sizes where nothing is compared; then what is missing."""
    lines = []
    if result.comparison is not None and result.comparison.pairs:
        lines += [pair_sentence(p, result) for p in result.comparison.pairs]
    elif result.samples:
        label, unit = label_and_unit(result.quantity)
        followed = {m.name for series in result.series for m in series.samples}
        for s in [s for s in result.samples if s.name not in followed][:12]:
            e = s.quantity(result.quantity)
            if e is not None and math.isfinite(e.value):
                lines.append(f"{s.name}: {label} = {with_u(e.value, e.u)} {unit}.")
    for series in result.series:
        if series.change is not None and series.change.first is not None:
            lines.append(" ".join(series_sentences(series)[:2]))
    bare = [s.name for s in result.samples if s.size is None]
    if bare:
        lines.append(
            f"A curve, but no sizes: {', '.join(bare[:12])}{' …' if len(bare) > 12 else ''} (see the findings)."
        )
    failed = sorted(set(result.failed))
    if failed:
        lines.append(f"Without a result: {', '.join(failed)} (see the findings).")
    return lines or ["No sample gave a result; the findings say why."]
