# SPDX-License-Identifier: GPL-3.0-or-later
"""Named distributions from Python, against closed forms and against what was put in."""

import numpy as np
import pytest
from scipy.special import gammaln

import sievelight as sl
from sievelight.errors import InputError


def schulz_spheres(q, mean_number_nm, relative):
    """<f^2>/<V^2> of spheres with number-weighted Schulz-Zimm radii, in closed form.

    M. Kotlarchyk, S.-H. Chen, J. Chem. Phys. 79 (1983) 2461; from memory, confirmed against the table of 1e-10 in the tests
    of the reference values: at R = 10, p = 0.2, q = 0.1 it is 0.726878634238.
    """
    z = 1 / relative**2 - 1
    r = mean_number_nm / 2
    a = (z + 1) / (q * r)
    delta = np.arctan(2 / a)
    ln4 = np.log(4 + a**2)
    ln_a = np.log(a)
    # a^(Z+1) G1(a), powers in logs.
    p = z + 1
    terms = (
        1
        - np.exp(p * (ln_a - ln4 / 2)) * np.cos(p * delta)
        + (z + 2) * (z + 1) * (np.exp(-2 * ln_a) + np.exp(p * ln_a - (z + 3) / 2 * ln4) * np.cos((z + 3) * delta))
        - 2 * (z + 1) * np.exp(p * ln_a - (z + 2) / 2 * ln4) * np.sin((z + 2) * delta)
    )
    f2 = 8 * np.pi**2 * q**-6 * terms
    ln_r6 = 6 * np.log(r / (z + 1)) + gammaln(z + 7) - gammaln(z + 1)
    return f2 / ((4 * np.pi / 3) ** 2 * np.exp(ln_r6))


def test_the_closed_form_is_the_table():
    got = schulz_spheres(np.array([0.01, 0.05, 0.1, 0.2, 0.5, 1.0]), 20.0, 0.2)
    table = [0.996830479726, 0.923618251066, 0.726878634238, 0.273949081418, 0.00419303651153, 0.000270181613287]
    # The closed form cancels as q^-6: 2e-8 is lost at q R = 0.1.
    assert np.allclose(got, table, rtol=1e-7) and np.allclose(got[2:], table[2:], rtol=1e-9)


def test_a_number_weighted_schulz_zimm_comes_back_as_the_volume_weighted_one():
    q = np.geomspace(0.06, 2.0, 160)
    truth = 40 * schulz_spheres(q, 12.0, 0.25)
    u = 0.01 * truth + 1e-4
    noisy = truth + u * np.random.default_rng(2).standard_normal(q.size)
    fit = sl.fit_parametric(sl.Curve(q_per_nm=q, intensity=noisy, private_u=u), "Schulz-Zimm")
    # D^3 moves z by 3: z = 15 becomes 18, mean 12 (z + 4)/(z + 1), relative width 1/sqrt(z + 4).
    mean, width = fit.parameters["mean_nm"], fit.parameters["relative_width"]
    assert mean.value == pytest.approx(12.0 * 19 / 16, abs=4 * mean.u)
    assert width.value == pytest.approx(1 / np.sqrt(19), abs=4 * width.u)
    assert mean.u < 0.05 and width.u < 0.01
    assert 0.6 < fit.chi2 / fit.degrees_of_freedom < 1.4
    assert "Schulz-Zimm" in repr(fit)


def test_families_are_ordered_and_their_weights_say_what_the_curve_can_tell():
    q = np.geomspace(0.06, 2.0, 160)
    truth = 40 * schulz_spheres(q, 12.0, 0.25)
    u = 0.01 * truth + 1e-4
    curve = sl.Curve(q_per_nm=q, intensity=truth, private_u=u)
    compared = sl.compare_families(curve)
    assert compared.best.family == "Schulz-Zimm" and sum(compared.weights) == pytest.approx(1)
    assert [r["bic_beyond_best"] for r in compared.rows()] == sorted(r["bic_beyond_best"] for r in compared.rows())
    assert compared.rows()[-1]["weight"] < 1e-6  # one size only
    with pytest.raises(InputError, match="log-normal"):
        sl.fit_parametric(curve, "lognormal")
