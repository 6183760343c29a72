# SPDX-License-Identifier: GPL-3.0-or-later
"""What must not change the answer: the detector turned by 90°, a longer exposure, an exposure split in two.

Frames are Poisson counts about a smooth pattern that falls from the beam point; the numbers drawn are Hypothesis's.
"""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

import sievelight as sl
from sievelight._core import Frame
from sievelight.geometry import DetectorGeometry, pixel_map

EDGES = np.geomspace(0.15, 3.0, 25)
laws = settings(max_examples=12, deadline=None)


def geometry(x, y, wide=0.2, high=0.2):
    return DetectorGeometry(
        wavelength_nm=0.154,
        distance_mm=300.0,
        beam_center_x_px=x,
        beam_center_y_px=y,
        pixel_size_x_mm=wide,
        pixel_size_y_mm=high,
    )


def pattern(g, rows, columns):
    q = pixel_map(g, rows, columns).q_per_nm
    return 3000 / (1 + (2 * q) ** 4) + 2


def frame(counts, seconds):
    return Frame(np.asarray(counts, float), exposure_s=seconds)


def reduced(counts, g, seconds, **options):
    view = pixel_map(g, *counts.shape)
    return sl.average(frame(counts, seconds), map=view, edges_per_nm=EDGES, **options).curve


@laws
@given(
    x=st.floats(5, 75),
    y=st.floats(5, 55),
    high=st.floats(0.1, 0.3),
    turns=st.integers(1, 3),
    seed=st.integers(0, 99),
    fraction=st.floats(0, 1),
)
def test_a_turned_detector_sees_the_same(x, y, high, turns, seed, fraction):
    rows, columns = 60, 80
    counts = np.random.default_rng(seed).poisson(pattern(geometry(x, y, 0.2, high), rows, columns))
    # np.rot90 takes (row, column) to (columns - 1 - column, row); the plane of polarisation turns the same way.
    turned, at, pixel, plane = counts, (x, y), (0.2, high), 0.0
    for _ in range(turns):
        at, pixel, plane = (at[1], turned.shape[1] - 1 - at[0]), pixel[::-1], plane + 90
        turned = np.rot90(turned)
    a = reduced(counts, geometry(x, y, 0.2, high), 10.0, polarization_fraction=fraction)
    b = reduced(turned, geometry(*at, *pixel), 10.0, polarization_fraction=fraction, polarization_plane_deg=plane)
    # One and the same sum in another order: rounding alone, 1e-9 for the angles of a plane given in degrees.
    np.testing.assert_allclose(b.q_per_nm, a.q_per_nm, rtol=1e-9)
    np.testing.assert_allclose(b.intensity, a.intensity, rtol=1e-9)
    np.testing.assert_allclose(b.private_u, a.private_u, rtol=1e-9)


@laws
@given(times=st.integers(2, 50), seconds=st.floats(0.01, 1e4), seed=st.integers(0, 99))
def test_the_same_counts_in_more_time_are_less_intensity(times, seconds, seed):
    g = geometry(20.0, 30.0)
    counts = np.random.default_rng(seed).poisson(pattern(g, 60, 80))
    a, b = reduced(counts, g, seconds), reduced(counts, g, seconds * times)
    np.testing.assert_allclose(b.intensity * times, a.intensity, rtol=1e-12)
    np.testing.assert_allclose(b.private_u * times, a.private_u, rtol=1e-12)


@laws
@given(share=st.floats(0.05, 0.95), seed=st.integers(0, 10_000))
def test_an_exposure_split_in_two_is_the_same_measurement(share, seed):
    g = geometry(20.0, 30.0)
    random = np.random.default_rng(seed)
    counts = random.poisson(pattern(g, 60, 80))
    first = random.binomial(counts, share)  # a Poisson number split by chance: two independent ones
    view = pixel_map(g, 60, 80)
    whole = reduced(counts, g, 100.0)
    parts = [frame(first, 100.0 * share), frame(counts - first, 100.0 * (1 - share))]
    both = sl.average(parts, map=view, edges_per_nm=EDGES).curve
    np.testing.assert_allclose(both.intensity, whole.intensity, rtol=1e-12)
    np.testing.assert_allclose(both.private_u, whole.private_u, rtol=1e-12)
    # Each part alone says the same within its errors: chi2 of n points, far in its tail at n + 6 sqrt(2 n).
    a, b = (sl.average(p, map=view, edges_per_nm=EDGES).curve for p in parts)
    shared = (
        np.isin(a.q_per_nm.round(9), b.q_per_nm.round(9))
        if len(a.q_per_nm) != len(b.q_per_nm)
        else np.ones(len(a.q_per_nm), bool)
    )
    if shared.all():
        chi2 = (((a.intensity - b.intensity) ** 2) / (a.private_u**2 + b.private_u**2)).sum()
        assert chi2 < len(a.q_per_nm) + 6 * np.sqrt(2 * len(a.q_per_nm))
