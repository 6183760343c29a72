# SPDX-License-Identifier: GPL-3.0-or-later
"""What X-rays meet in matter: attenuation and fluorescence from a composition and a wavelength.

Tables: T. Schoonjans et al., Spectrochim. Acta B 66 (2011) 776; they agree with others within 1 to 2 % away from edges.
"""

from sievelight import _core
from sievelight._core import Fluorescence, Material

__all__ = ["Fluorescence", "Material", "attenuation_per_cm", "fluorescence", "mass_attenuation_cm2_per_g"]

HC_KEV_NM = 1.2398419843320026  # SI 2019, exact


def mass_attenuation_cm2_per_g(name_or_formula: str, *, wavelength_nm: float) -> float:
    """mu/rho in cm2/g of a material by name ("air", "water", "polyimide") or formula ("SiO2").

    Raises InputError for what is neither, and outside 1 to 100 keV.
    """
    return _core.mass_attenuation_cm2_per_g(_core.material(name_or_formula), wavelength_nm)


def attenuation_per_cm(name_or_formula: str, *, wavelength_nm: float, density_g_per_cm3: float = 0.0) -> float:
    """mu in 1/cm at the density given, or that of the named material. InputError when neither is known."""
    return _core.attenuation_per_cm(_core.material(name_or_formula), wavelength_nm, density_g_per_cm3)


def fluorescence(name_or_formula: str, *, wavelength_nm: float, least_share: float = 0.01) -> list[Fluorescence]:
    """Elements that the beam excites at their K edge, strongest first: ``element``, ``edge_keV``, ``line_keV`` and
    ``share``, the fluorescence photons per absorbed one."""
    return _core.fluorescence(_core.material(name_or_formula), wavelength_nm, least_share)
