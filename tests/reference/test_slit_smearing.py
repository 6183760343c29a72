# SPDX-License-Identifier: GPL-3.0-or-later
"""Slit smearing held against closed forms and SciPy's quadrature.

Convention: J(q) = 2 integral_0^inf W(l) I(sqrt(q^2 + l^2)) dl. Source of the convention: O. Glatter, O. Kratky (eds.),
Small Angle X-ray Scattering, Academic Press 1982, ch. 4 (from memory); the closed forms are integrals that SciPy and
mpmath confirm here.
"""

import mpmath
import numpy as np
import pytest
from scipy import integrate, special

from sievelight import reduce

Q_IN = np.geomspace(0.004, 1000, 2400)  # steps of 0.0052 in ln q: cubic interpolation is good to 4e-9 for q^-4
Q = np.array([0.02, 0.1, 0.5, 0.7, 1.0, 2.0])


def two_phase(q):
    return 1 / (1 + q**2) ** 2


@pytest.mark.parametrize("n", [2, 3, 4])
def test_power_laws_in_an_infinite_slit(n):
    slit = reduce.slit_profile(infinite=True)
    smeared = reduce.smear(Q_IN, Q_IN**-n, slit, q_out_per_nm=Q, high_q_exponent=n)
    expected = np.sqrt(np.pi) * special.gamma((n - 1) / 2) / special.gamma(n / 2) * Q ** (1 - n)
    # The largest rows reach over five decades of q; q^-2 falls slowest.
    np.testing.assert_allclose(smeared, expected, rtol=1e-8)
    by_hand = mpmath.quad(lambda v: 2 * (mpmath.mpf(Q[2]) ** 2 + v**2) ** (-n / 2), [0, 1, mpmath.inf])
    assert expected[2] == pytest.approx(float(by_hand), rel=1e-12)


def test_a_two_phase_medium_in_an_infinite_slit():
    smeared = reduce.smear(Q_IN, two_phase(Q_IN), reduce.slit_profile(infinite=True), q_out_per_nm=Q)
    np.testing.assert_allclose(smeared, np.pi / 2 * (1 + Q**2) ** -1.5, rtol=1e-8)
    assert smeared[3] == pytest.approx(0.863655363453, rel=1e-8)  # at q = 0.7


def test_porods_law_in_a_finite_slit():
    slit = reduce.slit_profile(half_top_mm=1.0, half_base_mm=1.0)
    smeared = reduce.smear(Q_IN, Q_IN**-4.0, slit, q_out_per_nm=[0.1, 0.5, 1.0, 2.0])
    np.testing.assert_allclose(smeared, [785.068787647, 6.02859487118, 0.642699081699, 0.0539779755626], rtol=1e-8)


# The whole chain on a detector, against nested quadrature of the definition with the exact angles.
def test_a_laboratory_slit_against_scipy():
    distance, wavelength = 300.0, 0.154
    slit = reduce.slit_profile(
        half_top_mm=6.2, half_base_mm=11.9, width_fwhm_mm=0.12, distance_mm=distance, wavelength_nm=wavelength
    )
    forwards = Q_IN[Q_IN < 10]
    smeared = reduce.smear(forwards, two_phase(forwards), slit, q_out_per_nm=Q)
    sd = 0.12 / np.sqrt(8 * np.log(2))

    def seen(across, along):
        angle = np.arctan(np.hypot(across, along) / distance)
        return two_phase(4 * np.pi / wavelength * np.sin(angle / 2))

    for k, q in enumerate(Q):
        x = distance * np.tan(2 * np.arcsin(q * wavelength / (4 * np.pi)))
        nodes, weights = np.polynomial.hermite_e.hermegauss(24)

        def trapezoid(along):
            return min(1.0, (11.9 - along) / (11.9 - 6.2)) / (6.2 + 11.9)

        total = 0.0
        for node, weight in zip(nodes, weights / weights.sum()):
            for low, high in ((0, 6.2), (6.2, 11.9)):
                part, _ = integrate.quad(
                    lambda along, across=x + sd * node: 2 * trapezoid(along) * seen(across, along),
                    low,
                    high,
                    epsrel=1e-12,
                )
                total += weight * part
        assert smeared[k] == pytest.approx(total, rel=1e-8)


# Source: integral_0^inf q J dq = 2 integral_0^inf k^2 I dk = pi/2 for this medium (polar coordinates).
def test_the_invariant_from_smeared_data():
    smeared = reduce.smear(Q_IN, two_phase(Q_IN), reduce.slit_profile(infinite=True))
    # Beyond the grid q J = (pi/2) q^-2, below it (pi/2) q; trapezoids in ln q are good to their step squared.
    inside = integrate.simpson(Q_IN**2 * smeared, x=np.log(Q_IN))
    total = inside + np.pi / 2 / Q_IN[-1] + np.pi / 4 * Q_IN[0] ** 2
    assert total == pytest.approx(np.pi / 2, rel=1e-6)
