# SPDX-License-Identifier: GPL-3.0-or-later
"""Scattering-length densities against closed numbers and other people's tables."""

import pytest

from sievelight import material

CU_NM = 0.154187


# Source: r_e n_e with n_e = rho N_A Z / M, from CODATA and IUPAC masses (worked by hand); masses of IUPAC: what
# they differ by inside their ranges is 3e-5.
@pytest.mark.parametrize(
    "name, density, sld",
    [("SiO2", 2.20, 18.6408e10), ("SiO2", 2.648, 22.4368e10), ("H2O", 0.998207, 9.40291e10), ("Au", 19.32, 131.500e10),
     ("C", 1.5, 12.7159e10), ("Si", 2.329, 19.7014e10), ("C22H10N2O5", 1.42, 12.3535e10), ("Al2O3", 3.987, 33.1791e10)],
)  # fmt: skip
def test_free_electrons(name, density, sld):
    found = material.scattering_length_density(name, density_g_per_cm3=density)
    assert found.real == pytest.approx(sld, rel=3e-5) and found.imag == 0


# Source: International Tables for Crystallography C 4.2.6.8 at Cu K alpha (from memory): +1.2 % for silica, -6.5 % for gold.
def test_dispersion_near_an_edge_and_far_from_one():
    silica = material.scattering_length_density("SiO2", density_g_per_cm3=2.20, wavelength_nm=CU_NM)
    assert silica.real == pytest.approx(18.860e10, rel=2e-3)
    gold = material.scattering_length_density("Au", density_g_per_cm3=19.32, wavelength_nm=CU_NM)
    assert gold.real == pytest.approx(123.02e10, rel=1e-2) and gold.imag > 0.05 * gold.real
    assert material.contrast_per_cm2(silica, 0j) == pytest.approx(abs(silica))
    assert material.scattering_length_density("vacuum") == 0


# Source: C. T. Chantler's tables as carried by xraydb; compilations of f' differ by some 0.1 electrons.
@pytest.mark.parametrize(
    "formula, density", [("SiO2", 2.2), ("Al2O3", 3.987), ("TiO2", 4.23), ("CaCO3", 2.71), ("ZrO2", 5.68)]
)
def test_another_table_agrees(formula, density):
    xraydb = pytest.importorskip("xraydb")
    delta, beta, _ = xraydb.xray_delta_beta(formula, density, 12398.4198 / (CU_NM * 10))
    to_sld = 2 * 3.141592653589793 / (CU_NM * 1e-7) ** 2
    found = material.scattering_length_density(formula, density_g_per_cm3=density, wavelength_nm=CU_NM)
    assert found.real == pytest.approx(delta * to_sld, rel=5e-3)
    assert found.imag == pytest.approx(beta * to_sld, rel=0.05)


def test_a_density_that_nobody_knows_is_asked_for():
    with pytest.raises(ValueError, match="density"):
        material.scattering_length_density("C10H8O4")
