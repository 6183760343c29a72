# SPDX-License-Identifier: GPL-3.0-or-later
"""Size distributions from Python: results, their files, their refusals."""

import pickle

import h5py
import numpy as np
import pytest
from scipy.special import spherical_jn

import sievelight as sl
from sievelight.distribution import SizeDistribution, make_kernel, sphere_form_factor

CONTRAST = 1.864e11


def curve(median_nm=12.0, sigma=0.2, phi=0.05, noise=0.03, seed=1, unit="1/cm"):
    """Log-normal spheres (by volume), through SciPy's spherical Bessel function."""
    rng = np.random.default_rng(seed)
    edges = np.geomspace(0.08, 2.0, 101)
    q = np.sqrt(edges[1:] * edges[:-1])
    d = median_nm * np.exp(sigma * np.linspace(-5, 5, 400))
    weight = np.exp(-0.5 * np.linspace(-5, 5, 400) ** 2)
    x = q[:, None] * d / 2
    form = (3 * spherical_jn(1, x) / x) ** 2 * np.pi / 6 * d**3
    intensity = phi * CONTRAST**2 * 1e-21 * (form @ weight) / weight.sum()
    u = noise * intensity + 1e-3 * intensity[50]
    return sl.Curve(
        q_per_nm=q, intensity=intensity + u * rng.standard_normal(q.size), private_u=u,
        q_low_per_nm=edges[:-1], q_high_per_nm=edges[1:], unit=unit,
    )  # fmt: skip


@pytest.fixture(scope="module")
def result():
    return sl.invert(curve(), contrast_per_cm2=CONTRAST)


def test_a_known_distribution_is_found(result):
    assert result.converged and not result.warnings
    assert abs(result.x50_nm.value - 12.0) < 4 * result.x50_nm.u
    assert abs(result.phi_one_minus_phi.value - 0.05) < 4 * result.phi_one_minus_phi.u
    assert result.x50_nm.u < 0.02 * 12  # 3 % noise on 100 points: the design commits to 1 %


def test_the_density_is_one_density_with_ordered_bands(result):
    d, q3 = result.diameter_nm, result.q3_per_nm
    assert np.sum(0.5 * (q3[1:] + q3[:-1]) * np.diff(d)) == pytest.approx(1.0, abs=0.02)  # a median, not a draw
    assert np.all(result.q3_low95 <= result.q3_low68) and np.all(result.q3_low68 <= q3)
    assert np.all(q3 <= result.q3_high68) and np.all(result.q3_high68 <= result.q3_high95)
    assert np.all(np.diff(result.cumulative) >= 0)


# Source: Hatch and Choate 1929: a log-normal keeps its sigma under any weighting; by number its median is that by volume
# times exp(-3 sigma^2), by surface times exp(-sigma^2).
def test_other_weightings_are_densities_and_their_means_are_ordered(result):
    assert set(result.weighted) == {"number", "surface", "intensity"}
    for band in result.weighted.values():
        assert np.trapezoid(band.median, result.diameter_nm) == pytest.approx(1, abs=0.05)
        assert np.all(band.low95 <= band.low68) and np.all(band.high68 <= band.high95)
    assert result.number_mean_nm.value < result.surface_mean_nm.value < result.mean_nm.value
    assert result.pore_chord_nm.value == pytest.approx(2 / 3 * result.surface_mean_nm.value)
    assert result.mesopore_share.value == pytest.approx(1, abs=0.02) and np.isnan(result.macropore_share.value)


def test_the_same_seed_gives_the_same_numbers_on_any_number_of_threads(result, monkeypatch):
    monkeypatch.setenv("SIEVELIGHT_THREADS", "1")
    alone = sl.invert(curve(), contrast_per_cm2=CONTRAST)
    assert alone.x50_nm.value == result.x50_nm.value
    assert np.array_equal(alone.q3_low95, result.q3_low95)


def test_a_kernel_serves_every_curve_on_its_bins(result):
    c = curve()
    again = sl.invert(c, contrast_per_cm2=CONTRAST, kernel=make_kernel(c))
    assert again.x50_nm.value == result.x50_nm.value


def test_results_pickle_and_come_back_from_plain_values(result):
    for back in (pickle.loads(pickle.dumps(result)), SizeDistribution.from_dict(result.to_dict())):
        assert back.x50_nm.value == result.x50_nm.value
        assert np.array_equal(back.influence["x50_nm"], result.influence["x50_nm"])
        assert back.warnings == result.warnings and back.notes == result.notes


def test_the_file_opens_in_a_generic_reader_with_its_bands(result, tmp_path):
    path = tmp_path / "d.h5"
    sl.write_distribution(path, result, title="a test")
    with h5py.File(path) as file:
        entry = file[file.attrs["default"]]
        data = entry[entry.attrs["default"]]
        assert entry.attrs["NX_class"] == "NXentry" and data.attrs["NX_class"] == "NXdata"
        assert np.array_equal(data[data.attrs["signal"]][()], result.q3_per_nm)
        assert np.array_equal(data["diameter_nm"][()], result.diameter_nm)
        found = []
        file.visit(found.append)
    assert any(name.endswith("q3_low95") for name in found)


def test_a_relative_curve_says_what_it_cannot_tell():
    r = sl.invert(curve(unit="relative"))
    assert np.isnan(r.phi_one_minus_phi.value)
    assert abs(r.x50_nm.value - 12.0) < 4 * r.x50_nm.u


def test_bad_calls_are_refused_in_words():
    c = curve()
    with pytest.raises(sl.InputError, match="method"):
        sl.invert(c, method="guess")
    with pytest.raises(sl.InputError, match="12 or more"):
        sl.invert(c, q_range_per_nm=(0.5, 0.6))
    flat = sl.Curve(q_per_nm=c.q_per_nm, intensity=-np.ones(c.q_per_nm.size), private_u=np.full(c.q_per_nm.size, 0.01))
    with pytest.raises(sl.NumericalError, match="no scattering above the background"):
        sl.invert(flat)


def test_the_form_factor_is_scipy_s():
    x = np.array([1e-3, 0.1, 0.5, 1.0, 4.493409457909064, 20.0])
    # Source: SciPy's spherical Bessel function; at the first zero of tan x = x both are rounding.
    assert np.allclose(sphere_form_factor(x), (3 * spherical_jn(1, x) / x) ** 2, rtol=1e-9, atol=1e-15)


@pytest.mark.parametrize("method", ["evidence", "cross_validation", "l_curve", "maximum_entropy"])
def test_every_quick_look_answers_and_warns_of_itself(method):
    quick = sl.invert(curve(), contrast_per_cm2=CONTRAST, method=method)
    assert quick.method == method and any("quick look" in w for w in quick.warnings)
    assert quick.x50_nm.value == pytest.approx(12.0, rel=0.05)
