# SPDX-License-Identifier: GPL-3.0-or-later
"""A sample's shape in the beam, and how much of it there is."""

from __future__ import annotations

from typing import Any

import numpy as np

from sievelight import reduce
from sievelight.errors import input_error
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def sample_shape(m: Measurement, settings: Settings) -> Any:
    """The shape of a row's sample in the beam; a capillary's inner diameter is the row's thickness."""
    s = settings.sample
    if s.shape == "plate" or m.role == "standard":
        rotation = 0.0 if m.role == "standard" else s.rotation_deg
        return reduce.PlateShape(rotation_deg=rotation, walls=s.walls if m.role != "standard" else "ignore")
    diameter = m.get("thickness_mm")
    if diameter is None:
        raise input_error(
            f"'{m.name}' (row {m.row}) is in a capillary without thickness_mm.", "Give its inner diameter there."
        )
    return reduce.CapillaryShape(
        inner_diameter_mm=diameter,
        beam_width_mm=s.beam_width_mm,
        beam_offset_mm=s.beam_offset_mm,
        axis=s.capillary_axis,
    )


def powder(m: Measurement, wavelength_nm: float, settings: Settings) -> Any:
    """Mass per area of a row without thickness: weighed (mass and area) or from its composition; None where neither.

    With an apparent density the curve speaks of a volume again, unless the study asks for intensities per gram.
    """
    mass, area, composition = m.get("mass_mg"), m.get("area_mm2"), m.text.get("composition")
    per_gram = settings.sample.intensity_per == "gram"
    density = None if per_gram else m.get("apparent_density_g_per_cm3")
    weighed = None
    if mass is not None and area is not None:
        value = 0.1 * mass / area  # mg/mm2 in g/cm2
        weighed = (value, value * float(np.hypot(m.u.get("mass_mg", 0) / mass, m.u.get("area_mm2", 0) / area)))
    if weighed is None and not composition:
        return None
    return reduce.powder_mass(
        composition=composition,
        wavelength_nm=wavelength_nm,
        per_area_g_per_cm2=weighed,
        density_g_per_cm3=None if density is None else (density, m.u.get("apparent_density_g_per_cm3", 0.0)),
        name=m.name,
    )
