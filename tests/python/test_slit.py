# SPDX-License-Identifier: GPL-3.0-or-later
"""Line-shaped beams from Python: profiles, smearing, a look without the slit. Closed forms are in tests/reference."""

import pickle

import numpy as np
import pytest

import sievelight
from sievelight import reduce
from sievelight.curve import Curve

Q = np.geomspace(0.02, 6, 400)


def two_phase(q):
    return 1 / (1 + q**2) ** 2


def test_a_trapezoid_and_its_measured_twin_smear_alike():
    per_mm = 2 * np.pi / (0.154 * 300)
    made = reduce.slit_profile(
        half_top_mm=6.2, half_base_mm=11.9, width_fwhm_mm=0.12, distance_mm=300.0, wavelength_nm=0.154
    )
    x = np.array([-11.9, -6.2, 6.2, 11.9])
    measured = reduce.slit_profile(
        length_profile=(x, [0, 3, 3, 0]), width_fwhm_mm=0.12, distance_mm=300.0, wavelength_nm=0.154
    )
    a, b = (reduce.smear(Q, two_phase(Q), p) for p in (made, measured))
    np.testing.assert_allclose(a, b, rtol=1e-12)
    assert a[0] < two_phase(Q[0])
    np.testing.assert_array_equal(pickle.loads(pickle.dumps(made)).length.weight, made.length.weight)
    curve = reduce.with_slit(Curve(q_per_nm=Q, intensity=a), made)
    # Source: second moment of a trapezoid (top^2 + base^2)/6; a Gaussian's full width is sqrt(8 ln 2) of its sd.
    assert curve.slit_length_per_nm[0] == pytest.approx(per_mm * np.sqrt((6.2**2 + 11.9**2) / 6), rel=1e-5)
    assert curve.slit_width_per_nm[0] == pytest.approx(per_mm * 0.12 / np.sqrt(8 * np.log(2)), rel=1e-5)


def test_desmearing_is_for_plots_and_says_so():
    slit = reduce.slit_profile(half_top_mm=0.3, half_base_mm=0.5)  # in 1/nm: no geometry
    smeared = reduce.smear(Q, two_phase(Q), slit)
    curve = Curve(q_per_nm=Q, intensity=smeared, private_u=1e-4 * smeared)
    result = reduce.desmear(curve, slit)
    inside = Q < 5
    np.testing.assert_allclose(result.intensity[inside], two_phase(Q[inside]), rtol=2e-3)
    assert result.chi2_per_point <= 1
    assert "for plots only" in result.note
    assert not isinstance(result, Curve)
    assert not hasattr(result, "private_u")
    with pytest.raises(TypeError):
        sievelight.fit_guinier(result)


@pytest.mark.parametrize(
    "options, words",
    [
        (dict(half_top_mm=1.0), "a trapezoid has a top and a base"),
        (dict(half_top_mm=2.0, half_base_mm=1.0), "0 <= half top <= half base"),
        (dict(distance_mm=300.0), "one of distance_mm and wavelength_nm is missing"),
        (dict(half_top_mm=1.0, half_base_mm=2.0, length_profile=([0, 1], [1, 1])), "given twice"),
        (dict(width_fwhm_mm=0.1, width_profile=([0, 1], [1, 1])), "a measured and a Gaussian width"),
        (dict(infinite=True, half_top_mm=1.0, half_base_mm=2.0), "infinite slit"),
    ],
)
def test_a_profile_that_is_none_is_refused(options, words):
    with pytest.raises(sievelight.InputError, match=words) as caught:
        reduce.slit_profile(**options)
    assert caught.value.mend


def test_words_are_checked():
    slit = reduce.slit_profile(half_top_mm=0.3, half_base_mm=0.5)
    with pytest.raises(sievelight.InputError, match="'spline' is not a kind of interpolation"):
        reduce.smear(Q, two_phase(Q), slit, interpolation="spline")
