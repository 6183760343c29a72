# SPDX-License-Identifier: GPL-3.0-or-later
"""The Python face of peaks and ordered pores: calls, pickles, what a person reads, refusals."""

import pickle

import numpy as np
import pytest

import sievelight as sl
from sievelight import InputError, _core
from sievelight.ordered import index_positions, reflections


@pytest.fixture(scope="module")
def hexagonal():
    """p6mm with a = 10 nm (q10 = 0.725519746 1/nm), four peaks on a power law, 2 % noise."""
    random = np.random.default_rng(4)
    q = np.geomspace(0.1, 5, 300)
    truth = q**-3 + 0.02
    for ratio, contrast in zip(np.sqrt([1, 3, 4, 7]), (5, 2.5, 2.5, 1.5), strict=True):
        at = 0.725519746 * ratio
        truth += contrast * (at**-3 + 0.02) * np.exp(-4 * np.log(2) * ((q - at) / 0.0435) ** 2)
    u = 0.02 * truth
    curve = sl.Curve(
        q_per_nm=q,
        intensity=truth + u * random.standard_normal(q.size),
        private_u=u,
        q_resolution_per_nm=np.full(q.size, 0.005),
    )
    return curve, sl.find_curve_peaks(curve)


def test_a_curve_becomes_a_pore(hexagonal):
    curve, peaks = hexagonal
    assert len(peaks) == len(peaks.peaks) == 4
    lattice = sl.index_peaks(curve, peaks)
    assert lattice.decided and lattice.candidates[0].symmetry == "p6mm"
    a = lattice.candidates[0].lattice_nm
    assert abs(a.value - 10) < 3 * a.u
    assert a.influence.shape == (300,)
    pores = sl.ordered_pores(a, symmetry="p6mm", porosity=(0.5, 0.01))
    # d = 7.425 nm (reference table 8); u of a alone is 0.01, of the porosity 0.5 * 7.425 * 0.02 = 0.074.
    assert pores.pore_nm.value == pytest.approx(7.425, abs=0.03)
    assert pores.pore_nm.u == pytest.approx(0.0743, rel=0.02)
    assert np.any(pores.pore_nm.influence != 0)
    assert pores.pore_nm.value + pores.wall_nm.value == pytest.approx(a.value)
    share = sl.ordered.peak_share(curve, peaks)
    assert share.role == "carry" and "carry the curve" in share.words
    size = sl.domain_size(curve, peaks)
    assert size.lower_limit_nm < 2 * np.pi * 0.9 / np.sqrt(0.0435**2 - 0.01177**2)


def test_results_survive_a_pickle_and_show_themselves(hexagonal):
    curve, peaks = hexagonal
    lattice = sl.index_peaks(curve, peaks)
    results = (peaks, peaks.peaks[0], lattice, lattice.candidates[0], lattice.candidates[0].indexed[0])
    results += (reflections("p6mm", largest_m=3)[1], sl.domain_size(curve, peaks), sl.ordered.peak_share(curve, peaks))
    results += (sl.ordered_pores(10.0, symmetry="p6mm", porosity=0.5),)
    for result in results:
        assert repr(pickle.loads(pickle.dumps(result))) == repr(result)
    assert repr(lattice).startswith("<Indexing: p6mm, a = ")
    assert "±" in repr(peaks)
    assert np.isnan(peaks.fit[0]) and np.nanmax(np.abs(peaks.fit / curve.intensity - 1)) < 0.15


def test_options_reach_the_core(hexagonal):
    curve, _ = hexagonal
    few = sl.find_curve_peaks(curve, q_range_per_nm=(0.4, 1.0), profile="gaussian")
    assert {p.profile for p in few.peaks + few.set_aside} == {"gaussian"}
    assert few.q_range_per_nm.low >= 0.4 and few.q_range_per_nm.high <= 1.0
    assert not sl.find_curve_peaks(curve, largest_relative_width=0.01).peaks
    lattice = sl.index_peaks(curve, few, symmetries=["p6mm"], q_scale_relative_u=0.01)
    assert lattice.candidates[0].lattice_nm.u > 0.009 * lattice.candidates[0].lattice_nm.value
    assert "one peak" in lattice.verdict


def test_refusals_say_how_to_mend(hexagonal):
    curve, peaks = hexagonal
    with pytest.raises(InputError, match="'gaussian'"):
        sl.find_curve_peaks(curve, profile="voigt")
    with pytest.raises(InputError, match="'lamellar'"):
        sl.index_peaks(curve, peaks, symmetries=["hexagonal"])
    with pytest.raises(InputError, match="two sizes"):
        sl.ordered_pores(10.0, symmetry="Pm-3n", porosity=0.5)
    with pytest.raises(InputError, match="finite"):
        sl.ordered_pores((10.0, -1.0), symmetry="p6mm", porosity=0.5)
    with pytest.raises(InputError, match="rising"):
        index_positions([2.0, 1.0], u_per_nm=0.01, q_range_per_nm=(0.1, 3))
    with pytest.raises(InputError, match="no domain"):
        flat = sl.Curve(q_per_nm=np.geomspace(0.1, 5, 60), intensity=np.ones(60), private_u=np.full(60, 0.1))
        sl.domain_size(flat, sl.find_curve_peaks(flat))


def lamellar(points_to_a_width, noise=0.01):
    """Three orders at multiples of 0.9 1/nm, 0.02 1/nm wide, with an error of the q scale of 0.1 % as a reduction adds it."""
    fwhm = 0.02
    step = fwhm / points_to_a_width
    q = np.arange(0.4, 3.0, step)
    intensity = 0.2 * q**-3 + 0.05
    for order, height in ((1, 20), (2, 8), (3, 4)):
        intensity += height * np.exp(-4 * np.log(2) * ((q - 0.9 * order) / fwhm) ** 2)
    u = noise * intensity
    noisy = intensity + u * np.random.default_rng(1).standard_normal(q.size)
    curve = sl.Curve(
        q_per_nm=q, intensity=noisy, private_u=u, q_low_per_nm=q - step / 2, q_high_per_nm=q + step / 2, unit="1/cm"
    )
    return _core.add_wavelength_cause(curve, 1e-3)


@pytest.mark.parametrize(("points", "least", "warned"), [(2, 0.6, True), (4, 0.9, False), (9, 0.9, False)])
def test_an_error_of_the_q_scale_reaches_the_position_of_a_peak(points, least, warned):
    """u(q)/q of a peak through the wavelength is the wavelength's own relative uncertainty, whatever the binning: 88 to
    100 % of it at 3 points to a width and more; a slope through three points cannot follow a peak of two."""
    curve = lamellar(points)
    peaks = sl.find_curve_peaks(curve)
    first = min(peaks.peaks, key=lambda p: abs(p.q_per_nm.value - 0.9))
    share = np.sqrt(_core.variance_by_cause(first.q_per_nm.influence, curve)["wavelength"]) / 0.9 / 1e-3
    assert least < share < 1.05
    assert any("Bin finer" in w for w in sl.index_peaks(curve, peaks).warnings) == warned
