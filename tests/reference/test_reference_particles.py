# SPDX-License-Identifier: GPL-3.0-or-later
"""Published sizes of reference particles as a round trip: a curve of these numbers gives them back.

Sources: gold, R. Bienert, F. Emmerling, A. F. Thünemann, Anal. Bioanal. Chem. 395 (2009) 1651 (number-mean radius and
relative width by small-angle X-ray scattering); silver, B. R. Pauw, C. Kästner, A. F. Thünemann, J. Appl. Cryst. 50
(2017) 1280 (number- and volume-weighted mean radius and width of an inter-laboratory comparison).
"""

import numpy as np
import pytest

import sievelight as sl

GOLD = {"8 nm": (4.36, 0.04, 0.067), "25 nm": (12.20, 0.03, 0.103), "51 nm": (25.74, 0.27, 0.10)}


def form_factor(x):
    return (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2


def schulz_zimm(radius_nm, mean_nm, relative_width):
    """Number density of radii, unnormalised, from its definition (B. H. Zimm, J. Chem. Phys. 16 (1948) 1099)."""
    z = 1 / relative_width**2 - 1
    ln = z * np.log(radius_nm / mean_nm) - (z + 1) * radius_nm / mean_nm
    return np.exp(ln - ln.max())


@pytest.mark.parametrize("name", GOLD)
def test_gold_radii_come_back_within_their_published_uncertainty(name):
    mean, published_u, width = GOLD[name]
    radius = np.linspace(mean * max(1 - 7 * width, 0.02), mean * (1 + 9 * width), 2000)
    number = schulz_zimm(radius, mean, width)
    q = np.geomspace(0.25, 14, 220) / mean
    truth = form_factor(np.outer(q, radius)) @ (number * radius**6)
    truth *= 100 / truth[0]
    u = np.hypot(0.01 * truth, 2e-5)
    noisy = truth + u * np.random.default_rng(3).standard_normal(q.size)
    fit = sl.fit_parametric(sl.Curve(q_per_nm=q, intensity=noisy, private_u=u), "Schulz-Zimm")
    # The fit is volume-weighted: D^3 moves z by 3, mean (z + 4)/(z + 1), relative width 1/sqrt(z + 4).
    volume_width = fit.parameters["relative_width"].value
    z = 1 / volume_width**2 - 4
    found = fit.parameters["mean_nm"].value / 2 * (z + 1) / (z + 4)
    assert found == pytest.approx(mean, abs=published_u)
    assert 1 / np.sqrt(z + 1) == pytest.approx(width, abs=0.003)
    assert fit.probability > 1e-3


def test_silver_weighted_by_number_and_by_volume():
    # A log-normal of number mean 2.76 and sd 0.65 nm has a volume-weighted mean of 3.245 nm: within 1.4 % of the 3.20 that
    # the laboratories found (their distributions are no log-normals).
    mean, sd = 2.76, 0.65
    s = np.sqrt(np.log(1 + (sd / mean) ** 2))
    volume_median = mean * np.exp(-(s**2) / 2) * np.exp(3 * s**2)
    radius = np.geomspace(0.4, 12, 3000)
    volume = np.exp(-0.5 * (np.log(radius / volume_median) / s) ** 2)  # per ln R
    q = np.geomspace(0.08, 5, 200)
    truth = form_factor(np.outer(q, radius)) @ (volume * radius**3)
    truth *= 10 / truth[0]
    u = np.hypot(0.01 * truth, 1e-4)
    noisy = truth + u * np.random.default_rng(4).standard_normal(q.size)
    result = sl.invert(sl.Curve(q_per_nm=q, intensity=noisy, private_u=u), diameter_nm=(2.0, 20))
    assert result.mean_nm.value / 2 == pytest.approx(3.20, rel=0.025)
    # One draw of the noise: four standard uncertainties, and the last digit of 3.245.
    assert result.mean_nm.value == pytest.approx(2 * 3.245, abs=4 * result.mean_nm.u + 0.001)
    assert result.number_mean_nm.value / 2 == pytest.approx(mean, abs=3 * result.number_mean_nm.u / 2 + 0.03)
