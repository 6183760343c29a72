# SPDX-License-Identifier: GPL-3.0-or-later
"""Masks from Python: drawn shapes, ranges of counts and q, and masks found in frames."""

import numpy as np
import pytest

import sievelight as sl

SHAPE = (60, 80)


def test_shapes_agree_with_numpy():
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    rectangle = (x >= 5) & (x <= 20.5) & (y >= 3) & (y <= 9)
    np.testing.assert_array_equal(sl.mask_rectangle(SHAPE, x_px=(5, 20.5), y_px=(3, 9)), rectangle)
    circle = np.hypot(x - 30.2, y - 20.9) <= 11.3
    np.testing.assert_array_equal(sl.mask_circle(SHAPE, center_px=(30.2, 20.9), radius_px=11.3), circle)
    np.testing.assert_array_equal(sl.mask_circle(SHAPE, center_px=(30.2, 20.9), radius_px=11.3, outside=True), ~circle)
    counts = (x * y).astype(float)
    np.testing.assert_array_equal(sl.mask_values(counts, high=50), counts <= 50)
    np.testing.assert_array_equal(sl.mask_values(counts, low=10, high=50, outside=True), (counts < 10) | (counts > 50))


# Matplotlib's Path is the outside reference; corners at odd thirds keep pixel centres off the outline.
def test_polygons_agree_with_matplotlib():
    from matplotlib.path import Path

    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    rng = np.random.default_rng(3)
    for _ in range(20):
        angles = np.sort(rng.uniform(0, 2 * np.pi, 7))
        radii = rng.uniform(5, 45, 7)
        corners = np.column_stack([40.1 + radii * np.cos(angles), 30.7 + radii * np.sin(angles)])
        inside = Path(corners).contains_points(np.column_stack([x.ravel(), y.ravel()])).reshape(SHAPE)
        np.testing.assert_array_equal(sl.mask_polygon(SHAPE, corners_px=corners), inside)


def test_impossible_masks_say_how_to_mend():
    with pytest.raises(sl.InputError, match=r"has 2 corners.\nGive at least three"):
        sl.mask_polygon(SHAPE, corners_px=[(0, 0), (1, 1)])
    with pytest.raises(sl.InputError, match="covers no pixel of a detector of 80 columns and 60 rows"):
        sl.mask_circle(SHAPE, center_px=(500, 20), radius_px=11.3)
    with pytest.raises(sl.InputError, match="every pixel"):
        sl.mask_values(np.zeros(SHAPE), high=1)


def geometry():
    return sl.DetectorGeometry(
        wavelength_nm=0.15, distance_mm=600, beam_center_x_px=40.3, beam_center_y_px=29.6,
        pixel_size_x_mm=0.172, pixel_size_y_mm=0.172,
    )  # fmt: skip


def test_a_range_of_q_is_masked():
    q = sl.pixel_map(geometry(), *SHAPE).q_per_nm
    np.testing.assert_array_equal(sl.mask_q_range(q, low_per_nm=0.1, high_per_nm=0.2), (q >= 0.1) & (q <= 0.2))
    np.testing.assert_array_equal(sl.mask_q_range(q, low_per_nm=0.1), q >= 0.1)
    with pytest.raises(sl.InputError, match="no pixel lies in 7 <= q"):
        sl.mask_q_range(q, low_per_nm=7)


def test_a_beamstop_and_a_spot_are_found_together():
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    r = np.hypot(x - 40.3, y - 29.6)
    mean = np.where(r < 7, 0.5, 1e5 / np.maximum(r, 3) ** 2)
    mean = mean + 4000 * np.exp(-((x - 65) ** 2 + (y - 40) ** 2) / 4)
    counts = np.random.default_rng(1).poisson(mean)
    stop = sl.find_beamstop_shadow(counts, beam_center_px=(40.3, 29.6))
    assert stop.found and stop.mask[r < 7].all() and not stop.mask[r > 9.5].any()
    assert "the level rises from" in repr(stop)
    found = sl.find_crystal_spots(counts, sl.pixel_map(geometry(), *SHAPE), masked=stop.mask)
    assert len(found.spots) == 1
    assert found.spots[0].x_px == pytest.approx(65, abs=0.3)
    assert found.mask[40, 65] and found.mask.sum() < 120
    nothing = sl.find_beamstop_shadow(np.full(SHAPE, 9.0), beam_center_px=(40.3, 29.6))
    assert not nothing.found and not nothing.mask.any() and "nothing found" in nothing.words


# Source: README of the reference data: "a bright single-crystal spot and shadowed first columns that must be masked". The
# spot lies at column 389, row 104 (the highest number of every frame, with h5py); the first five columns count some
# 50 a pixel beside 2000.
def test_the_ageing_series_shows_its_shadow_and_its_spot_in_every_frame(reference_data):
    file = sl.open_frames(reference_data / "ageing-series-frames.h5")
    view = sl.DetectorGeometry(
        wavelength_nm=0.059040, distance_mm=540.8, beam_center_x_px=-5.65, beam_center_y_px=99.95,
        pixel_size_x_mm=0.172, pixel_size_y_mm=0.172,
    )  # fmt: skip
    q_map = sl.pixel_map(view, file.rows, file.columns)
    for index in range(file.count):
        frame = file.read(index)
        stop = sl.find_beamstop_shadow(frame.counts, beam_center_px=(-5.65, 99.95))
        assert stop.found
        assert stop.mask[:, :5].all() and not stop.mask[:, 7:].any()
        spots = sl.find_crystal_spots(frame.counts, q_map, masked=stop.mask)
        first = spots.spots[0]
        assert first.x_px == pytest.approx(388.7, abs=0.5)
        assert first.y_px == pytest.approx(103.9, abs=0.5)
        # By hand: 15 x 15 pixels less the median of the 3 pixels around them, 7.3e5 to 8.6e5 counts. The spot has faint
        # wings that do not stand out pixel by pixel, hence up to a fifth less.
        square = frame.counts[94:115, 379:400]
        around = np.ones(square.shape, dtype=bool)
        around[3:-3, 3:-3] = False
        by_hand = (square[3:-3, 3:-3] - np.median(square[around])).sum()
        assert 0.8 * by_hand < first.excess_counts < 1.02 * by_hand
        assert spots.mask[104, 389]
        # Beside the spot only the known hot pixel (row 58, column 112) may be called one.
        assert all((round(s.x_px), round(s.y_px)) == (112, 58) for s in spots.spots[1:])
        assert spots.mask.sum() < 250


# No beamstop stands in the silver behenate frame: the direct beam's flank is seen at column 0.
def test_no_beamstop_is_guessed_in_a_real_frame_without_one(reference_data):
    frame = sl.open_frames(reference_data / "silver-behenate-frame.h5").read(0)
    assert not sl.find_beamstop_shadow(frame.counts, beam_center_px=(-5.42, 85.86)).found
