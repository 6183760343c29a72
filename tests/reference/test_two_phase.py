# SPDX-License-Identifier: GPL-3.0-or-later
"""Guinier, Porod, invariant and surface against closed forms and a published benchmark.

Sources: P. Debye, H. R. Anderson, H. Brumberger, J. Appl. Phys. 28 (1957) 679; G. Porod, Kolloid-Z. 124 (1951) 83;
numbers re-computed in 30 digits (reference table 5.3). Benchmark: canSAS 1D working group, simulated size distribution of
1992 with the true distribution in the file.
"""

import numpy as np
import pytest
from scipy import integrate, special

from sievelight.analysis import fit_guinier, fit_porod, invariant, phi_one_minus_phi, specific_surface
from sievelight.curve import Curve, read_curves

CONTRAST = 18.6408e10  # silica of 2.20 g/cm3 against vacuum, 1/cm2


def curve_of(q, intensity, relative_u=0.0, unit="1/cm"):
    return Curve(q_per_nm=q, intensity=intensity, private_u=relative_u * intensity, unit=unit)


def test_porous_silica_from_curve_to_square_metres():
    # phi 0.3, a 5 nm: I(0) = 22924.41 1/cm, Q = 1.440383e23 cm^-4, K = 3.667906e29 cm^-5, 168 m2/cm3, 109.0909 m2/g.
    q = np.geomspace(0.005, 40, 600)
    i0 = 8 * np.pi * 5**3 * 0.21 * CONTRAST**2 * 1e-21
    assert i0 == pytest.approx(22924.41, abs=0.005)
    curve = curve_of(q, i0 / (1 + (5 * q) ** 2) ** 2)
    porod = fit_porod(curve)
    total = invariant(curve, guinier=fit_guinier(curve, q_rg_max=0.5), porod=porod)
    # The law's tolerance is 1 %; Q has 0.6 % of trapezoids, start and tail together at most.
    assert porod.constant_per_cm5.value == pytest.approx(3.667906e29, rel=0.01)
    assert total.value_per_cm4.value == pytest.approx(1.440383e23, rel=0.002)
    surface = specific_surface(
        curve, porod=porod, invariant=total, contrast_per_cm2=CONTRAST, porosity=0.3, skeletal_density_g_per_cm3=2.2
    )
    assert surface.from_contrast_m2_per_cm3.value == pytest.approx(168, rel=0.01)
    assert surface.from_porosity_m2_per_cm3.value == pytest.approx(168, rel=0.012)
    assert surface.m2_per_g.value == pytest.approx(109.0909, rel=0.012)
    assert surface.pore_chord_nm.value == pytest.approx(50 / 7, rel=0.012)
    assert surface.solid_chord_nm.value == pytest.approx(50 / 3, rel=0.012)


def test_the_two_phases_can_be_swapped():
    # Babinet: the curve holds phi (1 - phi) only, so phi and 1 - phi give the same Q and the same S/V.
    q = np.geomspace(0.005, 40, 400)
    curve = curve_of(q, 1000 / (1 + (5 * q) ** 2) ** 2, unit="relative")
    porod = fit_porod(curve)
    total = invariant(curve, guinier=None, porod=porod)
    low, high = (specific_surface(curve, porod=porod, invariant=total, porosity=p) for p in (0.3, 0.7))
    assert low.from_porosity_m2_per_cm3.value == pytest.approx(high.from_porosity_m2_per_cm3.value, rel=1e-12)
    assert low.pore_chord_nm.value == pytest.approx(high.solid_chord_nm.value, rel=1e-12)


def test_spheres_in_water():
    # 1 vol% SiO2 spheres of 10 nm in water: I(0) = 357.4655 1/cm, Q = 1.667672e21 cm^-4 with phi (1 - phi), and
    # S/V = 3 phi / R = 3 m2/cm3. A dilute sum has phi in place of phi (1 - phi), so Q / 0.99.
    contrast = 18.6408e10 - 9.40291e10
    q = np.linspace(0.005, 8, 2000)
    p = (3 * special.spherical_jn(1, 10 * q) / (10 * q)) ** 2
    i0 = 0.01 * 4 / 3 * np.pi * 1000 * contrast**2 * 1e-21
    assert i0 == pytest.approx(357.4655, abs=5e-5)
    curve = curve_of(q, i0 * p)
    guinier = fit_guinier(curve, q_rg_max=1.3)
    assert guinier.i0.value == pytest.approx(i0, rel=0.01)
    assert guinier.rg_nm.value == pytest.approx(np.sqrt(0.6) * 10 * (1 + guinier.sphere_bias_percent / 100), rel=1e-4)
    # Equal spheres ripple by 100 %, so K is an average over some thirteen ripples; its u comes from their residuals.
    porod = fit_porod(curve, q_range_per_nm=(4, 8))
    assert not porod.law_holds
    total = invariant(curve, guinier=guinier, porod=porod)
    assert total.value_per_cm4.value == pytest.approx(1.667672e21 / 0.99, rel=0.005)
    surface = specific_surface(curve, porod=porod, invariant=total, contrast_per_cm2=contrast)
    found = surface.from_contrast_m2_per_cm3
    assert found.value == pytest.approx(3.0, abs=2 * found.u)
    assert found.value == pytest.approx(3.0, rel=0.15)


def test_invariant_agrees_with_adaptive_quadrature():
    # Between two q, trapezoids against scipy.integrate.quad of the same closed form.
    q = np.geomspace(0.02, 10, 500)

    def intensity(x):
        return 1 / (1 + x**2) ** 2

    curve = curve_of(q, intensity(q), unit="relative")
    porod = fit_porod(curve)
    total = invariant(curve, guinier=None, porod=porod)
    inside = 1 - total.share_extrapolated_low - total.share_fitted_high - total.share_extrapolated_high
    low, high = total.q_range_per_nm
    exact, _ = integrate.quad(lambda x: x**2 * (intensity(x) - porod.background.value), low, high, epsrel=1e-12)
    # h^2 / 12 of the relative step h = 1.2 %, times the curvature of order ten at the ends.
    assert inside * total.value.value == pytest.approx(exact, rel=2e-4)


@pytest.fixture
def benchmark_file(reference_data):
    path = reference_data / "bimodal-test1.h5"
    if not path.exists():
        pytest.skip(f"no {path.name} in the reference data")
    return path


def test_published_bimodal_benchmark(benchmark_file):
    """Volume fraction and surface of the true distribution, from the noisy curve without any model of sizes."""
    h5py = pytest.importorskip("h5py")
    with h5py.File(benchmark_file) as file:
        rows = file["sasentry/sasnote/initial_size_distribution"]
        table = np.array(sorted((float(rows[k]["D"][0]), float(rows[k]["f"][0])) for k in rows if k.startswith("row")))
    diameter_nm, density_per_nm = table[:, 0] / 10, table[:, 1] * 10
    phi = np.trapezoid(density_per_nm, diameter_nm)
    surface_m2_per_cm3 = 1e3 * np.trapezoid(6 * density_per_nm / diameter_nm, diameter_nm)
    i0 = 1e22 * 1e-21 * np.trapezoid(density_per_nm * np.pi / 6 * diameter_nm**3, diameter_nm)
    rg = np.sqrt(
        0.6
        * np.trapezoid(density_per_nm * (diameter_nm / 2) ** 5, diameter_nm)
        / np.trapezoid(density_per_nm * (diameter_nm / 2) ** 3, diameter_nm)
    )
    curve = read_curves(benchmark_file)[0].curve
    guinier, porod = fit_guinier(curve), fit_porod(curve)
    total = invariant(curve, guinier=guinier, porod=porod)
    # Contrast squared 1e22 cm^-4, flat background 0.1 1/cm, both from the file. Dilute, so Q gives phi itself. Bounds: three
    # of the stated standard uncertainties; the start of the curve, with q Rg from 0.76 on, has few points, and a mixture
    # bends Guinier's law, so Rg and I0 are held to that and 10 %.
    assert porod.background.value == pytest.approx(0.1, abs=3 * porod.background.u)
    product = phi_one_minus_phi(curve, total, contrast_per_cm2=1e11)
    assert product.value == pytest.approx(phi, abs=3 * product.u)
    assert product.u < 0.02 * phi
    surface = specific_surface(curve, porod=porod, invariant=total, contrast_per_cm2=1e11).from_contrast_m2_per_cm3
    assert surface.value == pytest.approx(surface_m2_per_cm3, abs=3 * surface.u)
    assert surface.u < 0.1 * surface_m2_per_cm3
    assert guinier.rg_nm.value == pytest.approx(rg, abs=3 * guinier.rg_nm.u + 0.1 * rg)
    assert guinier.i0.value == pytest.approx(i0, abs=3 * guinier.i0.u + 0.1 * i0)
