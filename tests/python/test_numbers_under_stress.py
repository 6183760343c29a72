# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers that no instrument should give: a defined answer or an error in words, never NaN without a word.

Every law is put to every curve below. What a law states as its result must be a number; a secondary number may be NaN
where its documentation says so (χ² without an uncertainty) or where the result says in words what is missing.
"""

import math
import warnings

import numpy as np
import pytest

import sievelight as sl
from sievelight._core import Frame
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.geometry import DetectorGeometry, pixel_map

Q = np.geomspace(0.05, 4.0, 60)
SPHERES = 100 * (3 * (np.sin(5 * Q) - 5 * Q * np.cos(5 * Q)) / (5 * Q) ** 3) ** 2 + 1 / (1 + (20 * Q) ** 4) + 0.05
U = 0.02 * SPHERES + 1e-3
ODD = np.arange(60) % 2 == 1


def spiked(at, height):
    return np.where(np.arange(60) == at, height, SPHERES)


CURVES = {
    "all zero": (Q, 0 * Q, 0 * Q),
    "zero with an uncertainty": (Q, 0 * Q, U),
    "without uncertainty": (Q, SPHERES, 0 * Q),
    "one point": (Q[:1], SPHERES[:1], U[:1]),
    "two points": (Q[:2], SPHERES[:2], U[:2]),
    "twelve points": (Q[:12], SPHERES[:12], U[:12]),
    "negative": (Q, -SPHERES, U),
    "constant": (Q, 0 * Q + 1, 0 * Q + 0.1),
    "noise about zero": (Q, np.random.default_rng(1).normal(0, 1, 60), 0 * Q + 1),
    "one count": (Q, np.where(np.arange(60) == 30, 1.0, 0.0), np.ones(60)),
    "2^32 - 1": (Q, 0 * Q + 4294967295.0, 0 * Q + 65536.0),
    "large": (Q, SPHERES * 1e140, U * 1e140),
    "small": (Q, SPHERES * 1e-140, U * 1e-140),
    "vast uncertainty": (Q, SPHERES, 0 * Q + 1e100),
    "vanishing uncertainty": (Q, SPHERES, 0 * Q + 1e-300),
    "unequal uncertainty": (Q, SPHERES, np.where(ODD, 1e-12, 1e3)),
    "a spike": (Q, spiked(20, 1e12), U),
    "tiny q": (Q * 1e-12, SPHERES, U),
    "huge q": (Q * 1e12, SPHERES, U),
    "q almost equal": (1 + np.arange(60) * 1e-13, SPHERES, U),
    "rising": (Q, SPHERES[::-1].copy(), U[::-1].copy()),
}


def porod(c):
    return sl.fit_porod(c, q_range_per_nm=(1, 4))


# law -> (call, the numbers that it states)
LAWS = {
    "guinier": (sl.fit_guinier, ("rg_nm", "i0")),
    "porod": (porod, ("constant", "background")),
    "invariant": (lambda c: sl.invariant(c, guinier=None, porod=porod(c)), ("value",)),
    "correlation function": (lambda c: sl.correlation_function(c, guinier=None, porod=porod(c)), ("porod_length_nm",)),
    "two phases": (lambda c: sl.fit_random_two_phase(c, q_range_per_nm=(0.05, 4)), ("correlation_nm",)),
    "mean": (lambda c: sl.mean_intensity(c, q_range_per_nm=(1, 4)), ("value", "u")),
    "peaks": (sl.find_curve_peaks, ()),
    "sizes by evidence": (lambda c: sl.invert(c, method="evidence", contrast_per_cm2=1e11), ("x50_nm", "mean_nm", "background")),
    "sizes by entropy": (lambda c: sl.invert(c, method="maximum_entropy"), ("x50_nm", "mean_nm")),
    "named sizes": (sl.fit_parametric, ("x50_nm",)),
}  # fmt: skip


def numbers(value):
    """The numbers of a plain value or of an estimate."""
    return [value.value, value.u] if hasattr(value, "u") and hasattr(value, "value") else [value]


def stated(result, name):
    if name == "value" and hasattr(result, "u"):
        return [result.value]
    return numbers(getattr(result, name))


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("name", CURVES)
def test_a_law_gives_numbers_or_says_why_not(name, law):
    q, intensity, u = CURVES[name]
    call, results = LAWS[law]
    curve = sl.Curve(q_per_nm=q, intensity=intensity, private_u=u, unit="1/cm")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            result = call(curve)
    except SIEVELIGHT_ERRORS as error:
        assert error.problem and error.mend
        return
    for field in results:
        assert hasattr(result, field), (field, [a for a in dir(result) if not a.startswith("_")])
        found = stated(result, field)
        assert np.isfinite(found).all() or list(result.warnings), f"{field} = {found} without a word"
        assert not math.isnan(found[0]), f"{field} is NaN"


@pytest.mark.parametrize(
    ("q", "intensity", "u", "said"),
    [
        ([0.1, 0.2], [1, np.nan], [0.1, 0.1], "intensity is nan"),
        ([0.1, 0.2], [1, np.inf], [0.1, 0.1], "intensity is inf"),
        ([0.1, np.nan], [1, 1], [0.1, 0.1], "q is nan"),
        ([0.1, 0.1], [1, 1], [0.1, 0.1], "does not rise"),
        ([0.2, 0.1], [1, 1], [0.1, 0.1], "does not rise"),
        ([0.0, 0.1], [1, 1], [0.1, 0.1], "q is 0"),
        ([-0.1, 0.1], [1, 1], [0.1, 0.1], "q is -0.1"),
        ([0.1, 0.2], [1, 1], [0.1, -0.1], "uncertainty is -0.1"),
        ([0.1, 0.2], [1, 1], [0.1, np.nan], "uncertainty is nan"),
        ([0.1, 0.2], [1, 1e200], [0.1, 0.1], "1e.200"),
        ([1e-70, 0.2], [1, 1], [0.1, 0.1], "Check the unit of q"),
        ([0.1, 0.2], [1], [0.1, 0.1], "1 points but q has 2"),
    ],
)
def test_what_is_no_curve_is_refused(q, intensity, u, said):
    with pytest.raises(sl.InputError, match=said):
        sl.Curve(q_per_nm=q, intensity=intensity, private_u=u)


def geometry(x=4.0, y=3.0):
    return DetectorGeometry(
        wavelength_nm=0.154, distance_mm=300.0, beam_center_x_px=x, beam_center_y_px=y, pixel_size_x_mm=0.2, pixel_size_y_mm=0.2
    )  # fmt: skip


def average(counts, edges=None, masked=None, seconds=10.0):
    counts = np.asarray(counts, float)
    view = pixel_map(geometry(), *counts.shape)
    edges = np.linspace(0.02, 0.3, 6) if edges is None else edges
    frame = Frame(counts, masked, exposure_s=seconds)
    return sl.average(frame, map=view, edges_per_nm=edges)


def test_a_frame_of_zeros_has_an_uncertainty():
    result = average(np.zeros((8, 10)))
    assert (result.curve.intensity == 0).all()
    assert (result.curve.private_u > 0).all()


def test_one_count_and_the_largest_count_are_counts():
    one = np.zeros((8, 10))
    one[4, 6] = 1
    assert (average(one).counts.sum(), average(np.full((8, 10), 2.0**32 - 1)).curve.intensity.min() > 0) == (1, True)
    for counts in (one, np.full((8, 10), 2.0**32 - 1), np.full((8, 10), 2.0**53 - 1)):
        curve = average(counts).curve
        assert np.isfinite(curve.intensity).all() and np.isfinite(curve.private_u).all()


def test_one_pixel_and_one_bin():
    curve = average([[7.0]], edges=[0.01, 1.0]).curve
    # sqrt(N + 1) below `few_counts` counts, as average() says.
    assert len(curve.q_per_nm) == 1 and curve.private_u[0] / curve.intensity[0] == pytest.approx(math.sqrt(8) / 7)
    wide = average(np.full((8, 10), 3.0), edges=[1e-3, 10.0]).curve
    assert len(wide.q_per_nm) == 1 and np.isfinite(wide.intensity).all()


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, -1.0, -0.5])
def test_what_is_no_count_must_be_masked(bad):
    counts = np.full((8, 10), 5.0)
    counts[2, 3] = bad
    with pytest.raises(SIEVELIGHT_ERRORS):
        average(counts)
    masked = np.zeros((8, 10), bool)
    masked[2, 3] = True
    curve = average(counts, masked=masked).curve
    assert np.isfinite(curve.intensity).all()


@pytest.mark.parametrize("edges", [[0.1, 0.1], [0.2, 0.1], [np.nan, 1], [0, np.inf], [-1, 1], [], [0.1], [50.0, 60.0]])
def test_impossible_bins_are_refused(edges):
    with pytest.raises(SIEVELIGHT_ERRORS) as refused:
        average(np.full((8, 10), 5.0), edges=edges)
    assert refused.value.mend


@pytest.mark.parametrize("seconds", [0.0, -1.0, np.nan, np.inf])
def test_an_impossible_exposure_is_refused(seconds):
    with pytest.raises(SIEVELIGHT_ERRORS):
        average(np.full((8, 10), 5.0), seconds=seconds)


def batches(values, **options):
    names = [f"s{i}" for i in range(len(values))]
    labels = ["a", "a", "a", "b", "b", "b"][: len(values)]
    return sl.compare_batches(names=names, batches=labels, values=values, reference="a", **options)


def singular(n=6):
    return np.ones((n, n)) * 0.01


@pytest.mark.parametrize(
    ("values", "options"),
    [
        ([10, 10, 10, 10, 10, 10], {}),
        ([10, 10, 10, 11, 11, 11], {"u": [0] * 6}),
        ([10, 10.1, 9.9, 11, 10, 12], {"covariance": singular()}),
        ([10, 10.1, 9.9, 11, 10, 12], {"covariance": singular() * 1e12}),
        ([1e-150, 2e-150, 1e-150, 1e-150, 1e-150, 2e-150], {}),
        ([1e150, 1.1e150, 1e150, 1e150, 1e150, 1e150], {"u": [1e149] * 6}),
    ],
)
def test_batches_without_scatter_or_with_one_common_error_get_a_verdict_or_words(values, options):
    try:
        result = batches(values, **options)
    except SIEVELIGHT_ERRORS as error:
        assert error.mend
        return
    (pair,) = result.pairs
    assert pair.verdict in ("equivalent", "different", "undecided")
    assert (
        pair.verdict == "undecided"
        or np.isfinite([pair.difference_percent, pair.difference_percent_low, pair.difference_percent_high]).all()
    )
    assert pair.verdict != "undecided" or pair.reason or np.isfinite(pair.difference_percent)


@pytest.mark.parametrize(
    ("values", "options"),
    [
        ([10, np.nan, 10, 10, 10, 10], {}),
        ([10, np.inf, 10, 10, 10, 10], {}),
        ([10, 0, 10, 10, 10, 10], {}),
        ([10, -1, 10, 10, 10, 10], {}),
        ([10] * 6, {"u": [np.nan] * 6}),
        ([10] * 6, {"covariance": -np.eye(6)}),
        ([10] * 6, {"covariance": np.eye(6) + np.triu(np.ones((6, 6)))}),
        ([10] * 6, {"covariance": np.full((6, 6), np.nan)}),
        ([10] * 6, {"margin_percent": np.nan}),
        ([10] * 6, {"alpha": 0.0}),
    ],
)
def test_batches_of_impossible_numbers_are_refused(values, options):
    with pytest.raises(SIEVELIGHT_ERRORS):
        batches(values, **options)


@pytest.mark.parametrize("window", [(5.0, 5.0000001), (1e-9, 1e9), (1e-3, 2e-3), (1e6, 1e7)])
def test_a_window_that_makes_the_kernel_ill_conditioned_is_refused_or_told(window):
    curve = sl.Curve(q_per_nm=Q, intensity=SPHERES, private_u=U, unit="1/cm")
    try:
        result = sl.invert(curve, method="evidence", diameter_nm=window)
    except SIEVELIGHT_ERRORS as error:
        assert error.mend
        return
    assert result.warnings
    assert np.isfinite(result.q3_per_nm).all() and math.isfinite(result.x50_nm.value)


@pytest.mark.parametrize("contrast", [1e-30, 1e30, 1.0])
def test_extreme_contrasts_give_a_share_of_volume_or_words(contrast):
    curve = sl.Curve(q_per_nm=Q, intensity=SPHERES, private_u=U, unit="1/cm")
    result = sl.invert(curve, method="evidence", contrast_per_cm2=contrast)
    product, fraction = result.phi_one_minus_phi.value, result.volume_fraction.value
    assert math.isfinite(product)
    if product > 0.25:  # cannot be; then no fraction is given, and the words say so
        assert math.isnan(fraction) and any("no volume fraction is given" in w for w in result.warnings)
    else:
        assert fraction * (1 - fraction) == pytest.approx(product, rel=1e-3)
