# SPDX-License-Identifier: GPL-3.0-or-later
"""The unit that a name carries: `x50_nm` is in nm, `i0` in the unit of its curve."""

from __future__ import annotations

from typing import Any

# Longest first where one ends another.
SUFFIXES = {
    "_m2_per_cm3": "m²/cm³",
    "_m2_per_g": "m²/g",
    "_g_per_cm3": "g/cm³",
    "_cm3_per_g": "cm³/g",
    "_per_cm5": "1/cm⁵",
    "_per_cm4": "1/cm⁴",
    "_per_cm3": "1/cm³",
    "_per_cm2": "1/cm²",
    "_per_nm": "1/nm",
    "_px2": "px²",
    "_nm3": "nm³",
    "_nm2": "nm²",
    "_nm": "nm",
    "_px": "px",
    "_mm": "mm",
    "_deg": "°",
    "_rad": "rad",
    "_sr": "sr",
    "_percent": "%",
    "_Gy": "Gy",
    "_C": "°C",
    "_s": "s",
}
# Names that stand in the unit of the curve they came from.
LIKE_THE_CURVE = {"i0", "background", "amplitude", "intensity", "measured", "fit", "scatter", "private_u"}


def unit_of(name: str, result: Any = None) -> str:
    """The unit of an attribute by its name, '' for a plain number. result : where the curve's own unit stands."""
    if name in LIKE_THE_CURVE:
        return str(getattr(result, "unit", "") or getattr(result, "intensity_unit", ""))
    # q3_low68 and the like are densities over the diameter, named as ISO 9276 does.
    if name.startswith("q3_"):
        return "1/nm"
    stem = name.removesuffix("_u").removesuffix("_low95").removesuffix("_high95")
    return next((unit for suffix, unit in SUFFIXES.items() if stem.endswith(suffix)), "")
