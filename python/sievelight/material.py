# SPDX-License-Identifier: GPL-3.0-or-later
"""What X-rays meet in matter: attenuation and fluorescence from a composition and a wavelength.

Tables: T. Schoonjans et al., Spectrochim. Acta B 66 (2011) 776; they agree with others within 1 to 2 % away from edges.
"""

from sievelight import _core
from sievelight._core import Fluorescence, Material

__all__ = [
    "Fluorescence",
    "Material",
    "attenuation_per_cm",
    "contrast_per_cm2",
    "fluorescence",
    "mass_attenuation_cm2_per_g",
    "scattering_length_density",
]

HC_KEV_NM = 1.2398419843320026  # SI 2019, exact


def mass_attenuation_cm2_per_g(name_or_formula: str, *, wavelength_nm: float) -> float:
    """Mass attenuation coefficient mu/rho, cm2/g.

    Parameters
    ----------
    name_or_formula : a material by name ("air", "water", "polyimide") or formula ("SiO2").
    wavelength_nm : of the beam.

    Returns
    -------
    float, cm2/g

    Raises
    ------
    InputError
        It is neither, or the energy lies outside 1 to 100 keV.

    Examples
    --------
    >>> import sievelight as sl
    >>> round(sl.material.mass_attenuation_cm2_per_g("SiO2", wavelength_nm=0.154), -1)
    40.0
    """
    return _core.mass_attenuation_cm2_per_g(_core.material(name_or_formula), wavelength_nm)


def attenuation_per_cm(name_or_formula: str, *, wavelength_nm: float, density_g_per_cm3: float = 0.0) -> float:
    """Linear attenuation coefficient mu, 1/cm.

    Parameters
    ----------
    name_or_formula, wavelength_nm : as of :func:`mass_attenuation_cm2_per_g`.
    density_g_per_cm3 : that of the named material where absent.

    Returns
    -------
    float, 1/cm

    Raises
    ------
    InputError
        No density is known, or as :func:`mass_attenuation_cm2_per_g`.

    Examples
    --------
    >>> import sievelight as sl
    >>> round(sl.material.attenuation_per_cm("water", wavelength_nm=0.154))
    10
    """
    return _core.attenuation_per_cm(_core.material(name_or_formula), wavelength_nm, density_g_per_cm3)


def scattering_length_density(
    name_or_formula: str, *, wavelength_nm: float | None = None, density_g_per_cm3: float = 0.0
) -> complex:
    """Scattering-length density, 1/cm2; its imaginary part is positive and absorbs. "vacuum" is 0.

    Parameters
    ----------
    name_or_formula : as of :func:`mass_attenuation_cm2_per_g`.
    wavelength_nm : of the beam, for the tabulated dispersion; without one, of free electrons.
    density_g_per_cm3 : that of the named material where absent.

    Returns
    -------
    complex, 1/cm2

    Raises
    ------
    InputError
        No density is known, or as :func:`mass_attenuation_cm2_per_g`.

    Examples
    --------
    >>> import sievelight as sl
    >>> silica = sl.material.scattering_length_density("SiO2", density_g_per_cm3=2.2)
    >>> f"{silica.real:.3g} 1/cm2"
    '1.86e+11 1/cm2'
    """
    if name_or_formula.strip().lower() == "vacuum":
        return 0j
    found = _core.scattering_length_density(_core.material(name_or_formula), wavelength_nm or 0.0, density_g_per_cm3)
    return complex(found.real_per_cm2, found.imaginary_per_cm2)


def contrast_per_cm2(a: complex, b: complex) -> float:
    """|a - b|, the contrast of two phases for :func:`sievelight.invert`, 1/cm2.

    Parameters
    ----------
    a, b : scattering-length densities, 1/cm2.

    Returns
    -------
    float, 1/cm2

    Examples
    --------
    >>> import sievelight as sl
    >>> silica = sl.material.scattering_length_density("SiO2", density_g_per_cm3=2.2)
    >>> water = sl.material.scattering_length_density("water")
    >>> f"{sl.material.contrast_per_cm2(silica, water):.2g} 1/cm2"
    '9.2e+10 1/cm2'
    """
    return abs(a - b)


def fluorescence(name_or_formula: str, *, wavelength_nm: float, least_share: float = 0.01) -> list[Fluorescence]:
    """Elements that the beam excites at their K edge, strongest first.

    Parameters
    ----------
    name_or_formula, wavelength_nm : as of :func:`mass_attenuation_cm2_per_g`.
    least_share : weaker ones are left out.

    Returns
    -------
    list of Fluorescence
        ``element``, ``edge_keV``, ``line_keV`` and ``share``, the fluorescence photons per absorbed one.

    Raises
    ------
    InputError
        As :func:`mass_attenuation_cm2_per_g`.

    Examples
    --------
    >>> import sievelight as sl
    >>> [f.element for f in sl.material.fluorescence("Fe2O3", wavelength_nm=0.154)]
    ['Fe']
    """
    return _core.fluorescence(_core.material(name_or_formula), wavelength_nm, least_share)
