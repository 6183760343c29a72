# SPDX-License-Identifier: GPL-3.0-or-later
"""Geometry from Python. NumPy and SciPy, which share no code with the core, say what is right."""

import json
import pickle
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import sievelight
from sievelight import frames, geometry
from sievelight.geometry import DetectorGeometry

LABORATORY = {
    "wavelength_nm": 0.154187,
    "distance_mm": 600.0,
    "beam_center_x_px": 251.1,
    "beam_center_y_px": 298.4,
    "pixel_size_x_mm": 0.1,
    "pixel_size_y_mm": 0.1,
}


def by_hand(g, rows, columns):
    """Positions (rows, columns, 3) with SciPy's rotations: capital letters are turns about the moving axes, so that Z, X, Y
    is the product R_z R_x R_y."""
    y, x = np.indices((rows, columns))
    plane = np.stack(
        [
            (x - g.beam_center_x_px) * g.pixel_size_x_mm,
            (y - g.beam_center_y_px) * g.pixel_size_y_mm,
            np.zeros((rows, columns)),
        ],
        axis=-1,
    )
    turn = Rotation.from_euler("ZXY", [g.roll_deg, g.pitch_deg, g.yaw_deg], degrees=True)
    r = turn.apply(plane.reshape(-1, 3)).reshape(plane.shape) + np.array([0.0, 0.0, g.distance_mm])
    return r, turn.apply([0.0, 0.0, 1.0])


@pytest.mark.parametrize("tilt", [(0, 0, 0), (12, 0, 0), (0, -25, 0), (0, 0, 40), (15, -20, 100)])
def test_pixel_map_against_scipy_rotations(tilt):
    pitch, yaw, roll = tilt
    g = DetectorGeometry(
        **LABORATORY | {"distance_mm": 60.0, "pixel_size_y_mm": 0.15}, pitch_deg=pitch, yaw_deg=yaw, roll_deg=roll
    )
    seen = geometry.pixel_map(g, 300, 400)
    r, normal = by_hand(g, 300, 400)
    length = np.linalg.norm(r, axis=-1)
    across = np.hypot(r[..., 0], r[..., 1])
    two_theta = np.arctan2(across, r[..., 2])
    np.testing.assert_allclose(seen.q_per_nm, 4 * np.pi / 0.154187 * np.sin(two_theta / 2), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(seen.azimuth_rad, np.arctan2(r[..., 1], r[..., 0]), atol=1e-12)
    np.testing.assert_allclose(seen.cos_two_theta, r[..., 2] / length, atol=1e-14)
    np.testing.assert_allclose(seen.cos_incidence, r @ normal / length, atol=1e-13)
    np.testing.assert_allclose(seen.solid_angle_sr, 0.1 * 0.15 * (r @ normal) / length**3, rtol=1e-12)
    chi, s2 = np.arctan2(r[..., 1], r[..., 0]), np.sin(two_theta) ** 2
    f = 0.8
    expected = f * (1 - s2 * np.cos(chi) ** 2) + (1 - f) * (1 - s2 * np.sin(chi) ** 2)
    np.testing.assert_allclose(geometry.polarisation(seen, horizontal_fraction=f), expected, atol=1e-13)
    np.testing.assert_allclose(g.position_mm(17.0, 230.0), r[230, 17], atol=1e-11)


def test_geometry_is_a_value():
    g = DetectorGeometry(**LABORATORY, pitch_deg=1.5, yaw_deg=-2.0, roll_deg=90.0)
    assert (g.pitch_deg, g.yaw_deg, g.roll_deg) == (pytest.approx(1.5), pytest.approx(-2.0), pytest.approx(90.0))
    assert (g.beam_center_px, g.pixel_size_mm) == ((251.1, 298.4), (0.1, 0.1))
    assert pickle.loads(pickle.dumps(g)) == g
    assert hash(pickle.loads(pickle.dumps(g))) == hash(g)
    moved = g.replace(distance_mm=700.0, pitch_deg=0.0)
    assert (moved.distance_mm, moved.pitch_deg, moved.yaw_deg, g.distance_mm) == (700.0, 0.0, g.yaw_deg, 600.0)
    assert moved != g
    assert eval(repr(g), {"DetectorGeometry": DetectorGeometry}).distance_mm == 600.0
    with pytest.raises(AttributeError):
        g.distance_mm = 3.0


def test_an_impossible_geometry_is_refused_by_its_field():
    with pytest.raises(sievelight.InputError, match="distance_mm is -600"):
        DetectorGeometry(**LABORATORY | {"distance_mm": -600.0})
    with pytest.raises(sievelight.InputError, match=r"yaw 95 degrees"):
        DetectorGeometry(**LABORATORY, yaw_deg=95.0)
    with pytest.raises(TypeError):
        DetectorGeometry(0.154, 600.0)  # keywords only


def test_calibrants():
    assert "silver behenate" in geometry.known_calibrants()
    c = geometry.calibrant("AgBeh")
    assert c.d_nm[0] == 5.838
    own = geometry.calibrant("house standard", d_nm=[6.0, 3.0], relative_u=1e-3)
    assert (own.name, own.relative_u, list(own.d_nm)) == ("house standard", 1e-3, [6.0, 3.0])
    assert pickle.loads(pickle.dumps(own)).d_nm.tolist() == [6.0, 3.0]
    with pytest.raises(sievelight.InputError, match="Known are: silver behenate"):
        geometry.calibrant("unobtainium")


@pytest.fixture(scope="module")
def rings():
    """Behenate rings drawn by NumPy on an untilted detector, with a gap and a parasitic background."""
    rng = np.random.default_rng(7)
    y, x = np.indices((250, 300))
    two_theta = np.arctan(np.hypot((x - 140.7) * 0.2, (y - 120.2) * 0.2) / 400.0)
    q = 4 * np.pi / 0.154187 * np.sin(two_theta / 2)
    expected = 5.0 + 10.0 / np.maximum(q, 0.1) ** 4
    for n in range(1, 6):
        expected += 150.0 / n * np.exp(-0.5 * ((q - 2 * np.pi * n / 5.838) / 0.03) ** 2)
    counts = rng.poisson(expected)
    masked = np.zeros(counts.shape, dtype=bool)
    masked[100:110] = True
    counts[100:110] = rng.integers(0, 100000, (10, 300))
    start = DetectorGeometry(**LABORATORY | {"pixel_size_x_mm": 0.2, "pixel_size_y_mm": 0.2}).replace(
        distance_mm=385.0, beam_center_x_px=147.0, beam_center_y_px=127.0
    )
    return SimpleNamespace(counts=counts, masked=masked, start=start)


def test_ring_calibration_of_an_array_and_of_a_frame(rings):
    found = geometry.calibrate_rings(rings.counts, start=rings.start, masked=rings.masked)
    g = found.geometry
    for name, truth in (("distance_mm", 400.0), ("beam_center_x_px", 140.7), ("beam_center_y_px", 120.2)):
        assert abs(getattr(g, name) - truth) < 4 * found.u(name), name
    assert found.u("distance_mm") < 0.04  # 1e-4 of the distance
    assert found.parameters == ["distance_mm", "beam_center_x_px", "beam_center_y_px"]
    assert found.covariance.shape == (3, 3)
    assert found.x_px.shape == found.y_px.shape == found.order.shape == found.residuals_px.shape
    assert found.calibrant == "silver behenate"
    assert found.calibrant_relative_u == 5e-4
    assert "RingCalibration(distance" in repr(found)
    frame = SimpleNamespace(counts=rings.counts, masked=rings.masked)
    assert geometry.calibrate_rings(frame, start=rings.start).geometry == g
    again = pickle.loads(pickle.dumps(found))
    assert again.geometry == g
    np.testing.assert_array_equal(again.covariance, found.covariance)
    own = geometry.calibrate_rings(frame, start=rings.start, d_nm=5.838 / np.arange(1, 14), d_relative_u=1e-3)
    assert own.geometry == g
    assert own.calibrant_relative_u == 1e-3


def test_ring_calibration_without_a_start(rings):
    found = geometry.calibrate_rings(rings.counts, masked=rings.masked, wavelength_nm=0.154187, pixel_size_mm=0.2)
    for name, truth in (("distance_mm", 400.0), ("beam_center_x_px", 140.7), ("beam_center_y_px", 120.2)):
        assert abs(getattr(found.geometry, name) - truth) < 4 * found.u(name), name
    again = geometry.calibrate_rings(
        rings.counts,
        masked=rings.masked,
        wavelength_nm=0.154187,
        pixel_size_mm=(0.2, 0.2),
        distance_mm=430.0,
        beam_center_px=(150.0, 115.0),
    )
    assert abs(again.geometry.distance_mm - found.geometry.distance_mm) < 0.5 * found.u("distance_mm")
    with pytest.raises(sievelight.InputError, match="neither a start nor wavelength_nm and pixel_size_mm"):
        geometry.calibrate_rings(rings.counts, wavelength_nm=0.154187)
    with pytest.raises(sievelight.InputError, match="a start and distance_mm were given"):
        geometry.calibrate_rings(rings.counts, start=rings.start, distance_mm=400.0)


def test_components_of_a_calibration(rings):
    found = geometry.calibrate_rings(rings.counts, start=rings.start, masked=rings.masked)
    parts = geometry.geometry_components(found)
    assert [p.id for p in parts] == ["geometry 1", "geometry 2", "geometry 3", "calibrant spacing"]
    shifts = np.array(
        [
            [getattr(p.shifted_plus, name) - getattr(found.geometry, name) for name in found.parameters]
            for p in parts[:3]
        ]
    )
    np.testing.assert_allclose(shifts.T @ shifts, found.covariance, rtol=1e-6, atol=1e-12)
    assert parts[3].shifted_plus.distance_mm == pytest.approx(found.geometry.distance_mm * (1 + 5e-4), rel=1e-12)
    assert len(geometry.geometry_components(found, calibrant_relative_u=0.0)) == 3
    assert pickle.loads(pickle.dumps(parts))[0].shifted_plus == parts[0].shifted_plus


def test_a_calibration_that_cannot_work_says_why(rings):
    flat = np.random.default_rng(1).poisson(5.0, (250, 300))
    with pytest.raises(sievelight.DataError, match="no ring stands out") as caught:
        geometry.calibrate_rings(flat, start=rings.start)
    assert "really shows the calibrant" in caught.value.mend
    with pytest.raises(sievelight.InputError, match="mask of 3 rows and 3 columns"):
        geometry.calibrate_rings(flat, start=rings.start, masked=np.zeros((3, 3), dtype=bool))


def test_beam_center():
    rng = np.random.default_rng(3)
    y, x = np.indices((60, 80))
    expected = 1.0 + 3000.0 * np.exp(-0.5 * (((x - 33.3) / 1.5) ** 2 + ((y - 21.6) / 1.5) ** 2))
    counts = rng.poisson(expected)
    found = geometry.find_beam_center(counts)
    assert abs(found.x_px - 33.3) < 4 * found.u_x_px
    assert abs(found.y_px - 21.6) < 4 * found.u_y_px
    assert found.u_x_px < 0.02
    near = geometry.find_beam_center(counts, near_px=(35.0, 20.0), search_px=5.0)
    assert near.x_px == found.x_px
    with pytest.raises(sievelight.InputError, match="outside a frame of 80 columns and 60 rows"):
        geometry.find_beam_center(counts, near_px=(100.0, 20.0))


def test_the_demos_camera_is_found_from_its_nominal_geometry(small_demo):
    """The demo's simulator shares no code with the package and blurs the rings by the beam. Its tilt of 0.15 and -0.13
    degrees is not refined: it moves the rings by R^2/L times the tilt, 0.01 px on the first ring and 0.04 px on the
    second, below the standard uncertainty of the centre."""
    truth = json.loads((small_demo / "truth.json").read_text(encoding="utf-8"))["instrument"]
    counts = frames.open_frames(small_demo / "frames" / "silver-behenate.h5").read_sum()
    masked = frames.read_mask(small_demo / "frames" / "mask.h5", rows=600, columns=500)
    nominal = DetectorGeometry(**LABORATORY)
    found = geometry.calibrate_rings(counts, start=nominal, masked=masked, beam_fwhm_mm=0.5)
    g = found.geometry
    assert abs(g.distance_mm - truth["distance_mm"]) < 4 * found.u("distance_mm")
    assert abs(g.beam_center_x_px - truth["beam_x_px"]) < 4 * found.u("beam_center_x_px")
    assert abs(g.beam_center_y_px - truth["beam_y_px"]) < 4 * found.u("beam_center_y_px")
    assert found.u("distance_mm") < 5e-4 * g.distance_mm  # the counts know it better than the spacing is known


def test_positions_of_a_changer(rings):
    here = geometry.calibrate_rings(rings.counts, start=rings.start, masked=rings.masked)
    offsets = geometry.sample_plane_offsets([here, here])
    assert offsets.offset_mm.tolist() == [0.0, 0.0]
    assert offsets.u_mm(1) == pytest.approx(np.sqrt(2) * here.u("distance_mm"), rel=1e-9)
    assert geometry.with_sample_offset(here.geometry, 2.0).distance_mm == here.geometry.distance_mm - 2.0
    moved = geometry.geometry_components(here, offset_mm=2.0, u_offset_mm=0.1, position="3")
    assert [c.id for c in moved][-2:] == ["calibrant spacing", "sample plane 3"]
    with pytest.raises(sievelight.InputError, match="two positions"):
        geometry.sample_plane_offsets([here])


def test_a_calibrant_in_a_samples_row_is_recognised(rings):
    truth = rings.start.replace(distance_mm=400.0, beam_center_x_px=140.7, beam_center_y_px=120.2)
    assert geometry.looks_like_calibrant(rings.counts, truth, masked=rings.masked) == "silver behenate"
    smooth = np.random.default_rng(1).poisson(100.0 / (0.3 + geometry.pixel_map(truth, 250, 300).q_per_nm) ** 4)
    assert geometry.looks_like_calibrant(smooth, truth) == ""


def test_beam_spot():
    rng = np.random.default_rng(3)
    y, x = np.indices((60, 80))
    peak = 3000.0 * np.exp(-0.5 * (((x - 33.3) / 1.5) ** 2 + ((y - 21.6) / 1.5) ** 2))
    found = geometry.beam_spot(rng.poisson(1.0 + peak), radius_px=8.0)
    assert abs(found.counts - peak.sum()) < 4 * found.u_counts
    # The Gaussian is sampled at pixel centres here, so that the pixel's own variance is not in it: 1.5^2 - 1/12.
    assert abs(found.fwhm_x_px - 2.35482 * np.sqrt(1.5**2 - 1 / 12)) < 4 * found.u_fwhm_x_px
    assert found.covariance_px2.shape == (2, 2)
    with pytest.raises(sievelight.DataError, match="saturated or masked"):
        geometry.beam_spot(rng.poisson(1.0 + peak), saturation_value=1000)
