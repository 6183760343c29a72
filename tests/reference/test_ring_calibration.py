# SPDX-License-Identifier: GPL-3.0-or-later
"""A real frame of silver behenate, from the NeXus International Advisory Committee's example data collection.

The facility recorded: beam point at column -5.42 px, row 85.86 px (outside the frame), 513.8 mm, 0.073362836 nm, pixels of
0.172 mm. The collection's README records a ring fit with d001 = 5.8380 nm (T. C. Huang et al., J. Appl. Cryst. 26 (1993)
180): -5.40, 85.86 px; 515.5 mm without tilt, 515.1 mm with (0.35, 0.28 degrees); orders 1-10; 0.06 px rms.
"""

import h5py
import numpy as np
import pytest

from sievelight import geometry

RECORDED = geometry.DetectorGeometry(
    wavelength_nm=0.073362836,
    distance_mm=513.8,
    beam_center_x_px=-5.42,
    beam_center_y_px=85.86,
    pixel_size_x_mm=0.172,
    pixel_size_y_mm=0.172,
)
STARTS = [(1.0, 0.0, 0.0)] + [
    (stretch, 10 * np.cos(turn), 10 * np.sin(turn))
    for stretch in (0.95, 1.05)
    for turn in np.radians([0, 45, 90, 135, 180, 225, 270, 315])
]


@pytest.fixture(scope="module")
def counts(reference_data):
    with h5py.File(reference_data / "silver-behenate-frame.h5") as file:
        return file["entry/data/data"][()]


@pytest.mark.parametrize("start", STARTS, ids=lambda s: f"{s[0]:.2f},{s[1]:+.0f},{s[2]:+.0f}")
def test_the_recorded_geometry_is_found_from_far_starts(counts, start):
    stretch, dx, dy = start
    found = geometry.calibrate_rings(
        counts,
        start=RECORDED.replace(distance_mm=513.8 * stretch, beam_center_x_px=-5.42 + dx, beam_center_y_px=85.86 + dy),
    )
    g = found.geometry
    assert abs(g.beam_center_x_px + 5.42) < 0.1
    assert abs(g.beam_center_y_px - 85.86) < 0.1
    assert abs(g.distance_mm / 513.8 - 1) < 0.005
    # The README's own fit, with the same spacing: 0.05 % covers what its 0.35 degrees of tilt make of the distance.
    assert abs(g.distance_mm / 515.5 - 1) < 5e-4
    assert found.residual_px < 0.1
    assert set(range(1, 11)) <= set(found.rings.tolist())


def test_all_starts_end_in_one_place(counts):
    distances = [
        geometry.calibrate_rings(
            counts,
            start=RECORDED.replace(distance_mm=513.8 * s, beam_center_x_px=-5.42 + dx, beam_center_y_px=85.86 + dy),
        )
        for s, dx, dy in STARTS[:6]
    ]
    spread = np.ptp([d.geometry.distance_mm for d in distances])
    assert spread < 0.5 * distances[0].u("distance_mm")  # what the start leaves is less than what the points know


def test_the_tilt_agrees_with_the_recorded_fit(counts):
    found = geometry.calibrate_rings(counts, start=RECORDED, refine_tilt=True)
    # README: 515.1 mm and a tilt of 0.35 and 0.28 degrees, in a convention of its own: the total inclination is common.
    total = np.hypot(found.geometry.pitch_deg, found.geometry.yaw_deg)
    u_total = np.degrees(np.hypot(found.u("pitch_rad"), found.u("yaw_rad")))
    assert abs(total - np.hypot(0.35, 0.28)) < 3 * u_total
    assert abs(found.geometry.distance_mm - 515.1) < 3 * found.u("distance_mm")
    flat = geometry.calibrate_rings(counts, start=RECORDED)
    assert found.residual_px < flat.residual_px < 0.1
    assert any("fit better with a tilt" in w for w in flat.warnings)


def test_the_doublet_where_ring_thirteen_would_lie_is_left_out(counts):
    # The silver salt's in-plane reflections cross the frame's far edge (483 and 490 px from the beam point), where order 13
    # would be; they are not orders of d001.
    found = geometry.calibrate_rings(counts, start=RECORDED)
    assert 13 not in found.rings
    assert any(w.startswith("ring 13 was left out") for w in found.warnings)


def test_the_hot_pixel_makes_no_difference(counts):
    masked = np.zeros(counts.shape, dtype=bool)
    masked[55:60, 109:114] = True  # README: near row 57, column 111
    with_it = geometry.calibrate_rings(counts, start=RECORDED)
    without = geometry.calibrate_rings(counts, start=RECORDED, masked=masked)
    assert abs(with_it.geometry.distance_mm - without.geometry.distance_mm) < 0.2 * with_it.u("distance_mm")


def test_frames_without_these_rings_are_refused(reference_data):
    """The alloy's frames scatter strongly and smoothly; nothing in them is a behenate ring."""
    with h5py.File(reference_data / "ageing-series-frames.h5") as file:
        frame = file["entry/data/frames"][0]
    with pytest.raises(OSError, match="no ring stands out"):
        geometry.calibrate_rings(
            frame,
            start=RECORDED.replace(
                wavelength_nm=0.05904, distance_mm=540.8, beam_center_x_px=-5.65, beam_center_y_px=99.95
            ),
        )


def test_the_recorded_geometry_is_found_from_nothing(counts):
    """Wavelength and pixel size alone; the beam point lies outside the frame."""
    found = geometry.calibrate_rings(counts, wavelength_nm=0.073362836, pixel_size_mm=0.172)
    started = geometry.calibrate_rings(counts, start=RECORDED)
    g = found.geometry
    assert abs(g.beam_center_x_px + 5.42) < 0.1
    assert abs(g.beam_center_y_px - 85.86) < 0.1
    assert abs(g.distance_mm / 515.5 - 1) < 5e-4  # the README's fit without tilt
    # What the way there leaves is less than what the points know.
    for name in found.parameters:
        assert abs(getattr(g, name) - getattr(started.geometry, name)) < 0.5 * found.u(name), name
    assert set(range(1, 11)) <= set(found.rings.tolist())


@pytest.mark.parametrize("material", ["silicon", "lanthanum hexaboride", "corundum"])
def test_the_frame_is_refused_as_another_calibrant(counts, material):
    with pytest.raises(OSError, match="ring calibration"):
        geometry.calibrate_rings(counts, wavelength_nm=0.073362836, pixel_size_mm=0.172, calibrant=material)


@pytest.mark.parametrize("material", ["silver behenate", "silicon", "lanthanum hexaboride", "corundum"])
def test_the_alloy_is_no_calibrant(reference_data, material):
    with h5py.File(reference_data / "ageing-series-frames.h5") as file:
        frame = file["entry/data/frames"][4]
    with pytest.raises(OSError, match="ring calibration"):
        geometry.calibrate_rings(frame, wavelength_nm=0.05904, pixel_size_mm=0.172, calibrant=material)
