# SPDX-License-Identifier: GPL-3.0-or-later
"""The algebra of curves as laws that hold for any curve: sums in any order, covariances that are covariances, units kept.

Tolerances: sums of a few doubles of one size differ by rounding alone, 1e-12 of the largest term; a covariance is
positive semidefinite up to the same rounding of its largest element.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sievelight as sl
from sievelight import curve as c
from sievelight._core import Cause, Factor

UNITS = ("relative", "1/cm", "cm2/g")
IDS = ("transmission", "thickness", "blank counts", "distance")
KIND = {"blank counts": "pointwise"}
laws = settings(max_examples=80, deadline=None)

values = st.floats(-1e6, 1e6).filter(lambda x: x == 0 or abs(x) > 1e-6)
Q = np.array([0.1, 0.2, 0.35, 0.5, 0.9, 1.4])


@st.composite
def curves(draw, unit="1/cm"):
    n = len(Q)
    row = st.lists(values, min_size=n, max_size=n).map(np.array)
    causes = {
        name: Cause(KIND.get(name, "coherent"), draw(row))
        for name in draw(st.lists(st.sampled_from(IDS), unique=True, max_size=3))
    }
    return sl.Curve(q_per_nm=Q, intensity=draw(row), private_u=np.abs(draw(row)), causes=causes, unit=unit)


factors = st.builds(
    lambda value, u: Factor(value, {"transmission": u}), st.floats(-100, 100).filter(lambda x: x == 0 or abs(x) > 1e-3),
    st.floats(-1, 1),
)  # fmt: skip


def close(a, b, scale):
    return np.abs(np.asarray(a) - np.asarray(b)).max() <= 1e-12 * max(scale, 1e-300)


def size(*many):
    """The largest number that takes part."""
    found = [1e-300]
    for curve in many:
        found += [
            np.abs(curve.intensity).max(),
            curve.private_u.max(),
            *(np.abs(x.u).max() for x in curve.causes.values()),
        ]
    return max(found)


def same(a, b, scale):
    assert a.unit == b.unit
    assert close(a.intensity, b.intensity, scale)
    assert close(a.private_u, b.private_u, scale)
    for name in {*a.causes, *b.causes}:
        u, v = (x.causes[name].u if name in x.causes else np.zeros(len(Q)) for x in (a, b))
        assert close(u, v, scale), name


def is_covariance(matrix):
    assert np.array_equal(matrix, matrix.T) or close(matrix, matrix.T, np.abs(matrix).max())
    # Scaled to a unit diagonal: otherwise the rounding of the largest element hides the smallest.
    d = np.sqrt(np.diag(matrix))
    assert np.isfinite(d).all()
    d[d == 0] = 1
    assert np.linalg.eigvalsh(matrix / np.outer(d, d)).min() > -1e-10


@laws
@given(a=curves(), b=curves(), d=curves())
def test_sums_do_not_depend_on_their_order(a, b, d):
    same(c.add(c.add(a, b), d), c.add(a, c.add(b, d)), size(a, b, d))
    same(c.add(a, b), c.add(b, a), size(a, b))


@laws
@given(a=curves(), b=curves())
def test_what_is_subtracted_and_added_again_leaves_the_number_and_all_shared_errors(a, b):
    back = c.add(c.subtract(a, b), b)
    assert close(back.intensity, a.intensity, size(a, b))
    for name in {*a.causes, *b.causes}:
        u = a.causes[name].u if name in a.causes else np.zeros(len(Q))
        assert close(back.causes[name].u, u, size(a, b))
    # Own counts do not cancel: each subtraction and addition draws on them anew.
    assert (back.private_u >= a.private_u * (1 - 1e-12)).all()


@laws
@given(a=curves(), b=curves(), k=st.floats(-100, 100))
def test_a_number_times_a_sum_is_the_sum_of_the_parts(a, b, k):
    same(c.scale(c.add(a, b), k), c.add(c.scale(a, k), c.scale(b, k)), size(a, b) * max(abs(k), 1))


@laws
@given(a=curves(), k=factors, m=factors)
def test_two_factors_one_after_the_other_are_their_product(a, k, m):
    same(c.scale(c.scale(a, k), m), c.scale(a, c.multiply(k, m)), size(a) * 1e4)


@laws
@given(a=curves(), b=curves(), k=factors)
def test_every_covariance_is_one(a, b, k):
    for curve in (a, b, c.add(a, b), c.subtract(a, b), c.scale(a, k), c.share(a, "blank")):
        is_covariance(c.covariance(curve))
        assert np.allclose(np.diag(c.covariance(curve)), c.total_u(curve) ** 2, rtol=1e-12, atol=0)
    both = np.block([[c.covariance(a), c.covariance(a, b)], [c.covariance(b, a), c.covariance(b)]])
    is_covariance(both)
    assert np.array_equal(c.covariance(a, b), c.covariance(b, a).T)


@laws
@given(a=curves(), b=curves())
def test_the_variance_of_a_difference_is_that_of_its_parts(a, b):
    # var(a - b) = var a + var b - 2 cov(a, b), element by element: JCGM 100:2008, 5.2.2.
    expected = c.covariance(a) + c.covariance(b) - c.covariance(a, b) - c.covariance(b, a)
    assert close(c.covariance(c.subtract(a, b)), expected, size(a, b) ** 2 * 20)


@pytest.mark.parametrize("unit", UNITS)
def test_units_are_kept_and_never_mixed(unit):
    @settings(max_examples=15, deadline=None)
    @given(a=curves(unit), b=curves(unit), other=st.sampled_from(UNITS))
    def hold(a, b, other):
        for curve in (c.add(a, b), c.subtract(a, b), c.scale(a, 2.0), c.share(a, "x"), c.crop(a, q_low_per_nm=0.15)):
            assert curve.unit == unit
        assert c.rebin(a, group=2).unit == unit
        if other != unit:
            stranger = sl.Curve(q_per_nm=Q, intensity=a.intensity, private_u=a.private_u, unit=other)
            with pytest.raises(sl.InputError, match="unit"):
                c.add(a, stranger)

    hold()


@laws
@given(a=curves(), group=st.integers(1, 7))
def test_bins_that_are_merged_keep_the_mean_and_lose_no_error_that_is_shared(a, group):
    merged = c.rebin(a, group=group)
    whole = [slice(i, i + group) for i in range(0, len(Q), group)]
    for k, part in enumerate(whole):
        assert a.intensity[part].min() - 1e-9 <= merged.intensity[k] <= a.intensity[part].max() + 1e-9
    for name, cause in a.causes.items():
        if cause.kind == "coherent":
            for k, part in enumerate(whole):
                assert cause.u[part].min() - 1e-9 <= merged.causes[name].u[k] <= cause.u[part].max() + 1e-9
    is_covariance(c.covariance(merged))
