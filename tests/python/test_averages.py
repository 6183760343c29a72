# SPDX-License-Identifier: GPL-3.0-or-later
"""Other ways of averaging, and repeats, from Python: shapes, units, options, messages, pickles, the picture."""

import pickle

import numpy as np
import pytest

import sievelight as sl
from sievelight import InputError, reduce
from sievelight._core import DetectorGeometry, Frame, pixel_map

ROWS, COLUMNS = 60, 70


@pytest.fixture(scope="module")
def geometry():
    return DetectorGeometry(
        wavelength_nm=0.154,
        distance_mm=400.0,
        beam_center_x_px=31.3,
        beam_center_y_px=27.8,
        pixel_size_x_mm=0.5,
        pixel_size_y_mm=0.5,
    )


@pytest.fixture(scope="module")
def view(geometry):
    return pixel_map(geometry, ROWS, COLUMNS)


def expected(view, level, a=0.0, director_deg=0.0):
    """Counts of a pattern level(q) * (1 + a cos 2(chi - director)) in one second, unpolarised."""
    h = view.solid_angle_sr * (1 + view.cos_two_theta**2) / 2
    return h / h.mean() * level * (1 + a * np.cos(2 * (view.azimuth_rad - np.radians(director_deg))))


def test_from_a_frame_to_its_orientation(view):
    rng = np.random.default_rng(7)
    frame = Frame(rng.poisson(expected(view, 40.0, 0.5, 33.0)).astype(float), exposure_s=1.0)
    mask = (view.azimuth_rad > 1.0) & (view.azimuth_rad < 1.4)
    profile = sl.azimuthal_profile(frame, map=view, q_range_per_nm=(0.3, 1.0), bins=36, mask=mask, name="film")
    assert profile.intensity.shape == profile.azimuth_deg.shape == (36 - len(profile.empty_bins),)
    assert profile.empty_bins and profile.q_range_per_nm.high == 1.0
    found = sl.anisotropy(profile)
    assert found.amplitude.value == pytest.approx(0.25, abs=4 * found.amplitude.u)
    assert found.director_deg == pytest.approx(33.0, abs=4 * found.director_u_deg)
    # Closed form for 1 + a cos 2 phi: S2 = (4 a/15)/(1 - a/3).
    assert found.order_parameter.value == pytest.approx(4 * 0.5 / 15 / (1 - 0.5 / 3), abs=4 * found.order_parameter.u)
    assert found.isotropic_probability < 1e-6
    assert repr(found).startswith("<Anisotropy: A 0.2")
    known = sl.anisotropy(profile, director_deg=123.0)
    assert known.order_parameter.value < 0 and known.director_u_deg == 0


def test_options_are_those_of_average(view):
    counts = expected(view, 5.0)
    dark = Frame(np.full((ROWS, COLUMNS), 8.0), exposure_s=4.0)
    frame = Frame(counts * 10 + 20.0, exposure_s=10.0)
    options = dict(map=view, dark=dark, name="z")
    profile = reduce.azimuthal_profile(frame, q_range_per_nm=(0.3, 0.9), bins=[0, 90, 200], **options)
    level = 5.0 / (view.solid_angle_sr * (1 + view.cos_two_theta**2) / 2).mean()
    assert np.allclose(profile.intensity, level)
    assert list(profile.low_deg) == [0.0, 90.0]
    table = reduce.q_azimuth_map(frame, q_edges_per_nm=reduce.make_bins(view, bins=10), azimuth_bins=12, **options)
    assert table.intensity.shape == table.u.shape == table.pixels.shape == (12, 10)
    filled = table.pixels > 0
    assert np.allclose(table.intensity[filled], level) and not table.intensity[~filled].any()
    with pytest.raises(TypeError):
        reduce.azimuthal_profile(frame, map=view, q_range_per_nm=(0.3, 0.9), no_such_option=1)
    with pytest.raises(InputError, match="no unmasked pixel of 'z' lies in the annulus"):
        reduce.azimuthal_profile(frame, q_range_per_nm=(30, 90), **options)


def test_area_average_is_for_pictures(geometry, view):
    edges = reduce.linear_edges(0.02, 0.5, 100)
    frame = Frame(np.random.default_rng(1).poisson(expected(view, 30.0)).astype(float), exposure_s=1.0)
    area = reduce.area_average(frame, geometry=geometry, edges_per_nm=edges, name="a")
    assert area.intensity.shape == area.q_per_nm.shape == (area.covariance.shape[0],)
    assert np.allclose(area.u**2, area.covariance[:, 0])
    assert area.covariance[20, 1] > 0
    assert "for pictures" in area.notes[0]
    assert not hasattr(area, "curve")


def test_repeats_and_spikes(view):
    rng = np.random.default_rng(5)
    frames = []
    for k in range(5):
        counts = rng.poisson(expected(view, 20.0) * (0.9 if k == 2 else 1.0)).astype(float)
        if k == 4:
            counts[10, 11] += 60
        frames.append(Frame(counts, exposure_s=1.0))
    spikes = sl.find_spikes(frames)
    assert [(s.exposure, s.row, s.column) for s in spikes.spikes] == [(4, 10, 11)]
    assert spikes.masks[4][10, 11] and spikes.masks[4].sum() == 1
    clean = sl.remove_spikes(frames)
    assert clean[4].masked[10, 11] and not frames[4].masked[10, 11]
    averager = reduce.Averager(view, edges_per_nm=reduce.make_bins(view, bins=40))
    report = sl.compare_repeats(averager.average(f, name=f"frame {k}") for k, f in enumerate(clean))
    assert report.set_aside == [2] and not report.agree
    assert report.exposures[2].scale == pytest.approx(0.9, abs=4 * report.exposures[2].scale_u)
    assert "exposure 2 ('frame 2') differs" in report.findings[0]
    with pytest.raises(InputError, match="two or more exposures"):
        sl.find_spikes(frames[:1])


def test_results_pickle(geometry, view):
    frames = [Frame(expected(view, 20.0).round(), exposure_s=1.0) for _ in range(3)]
    frames[1].metadata.sample_name = "s"
    profile = sl.azimuthal_profile(frames, map=view, q_range_per_nm=(0.3, 1.0))
    edges = reduce.make_bins(view, bins=10)
    averager = reduce.Averager(view, edges_per_nm=edges)
    for value in [
        profile,
        sl.anisotropy(profile),
        sl.q_azimuth_map(frames, map=view, q_edges_per_nm=edges),
        reduce.area_average(frames, geometry=geometry, edges_per_nm=edges),
        sl.compare_repeats([averager.average(f) for f in frames]),
        sl.find_spikes(frames),
    ]:
        assert repr(pickle.loads(pickle.dumps(value))) == repr(value)


def test_picture_of_a_map(view):
    plt = pytest.importorskip("matplotlib.pyplot")
    from sievelight import plot

    mask = view.azimuth_rad > 2.5
    frame = Frame(expected(view, 20.0), exposure_s=1.0)
    table = sl.q_azimuth_map(frame, map=view, q_edges_per_nm=reduce.make_bins(view, bins=30), mask=mask)
    ax = plot.plot_q_azimuth_map(table, title="film")
    mesh = ax.collections[0]
    assert np.ma.getmaskarray(mesh.get_array()).sum() == (table.pixels == 0).sum()
    assert ax.get_xlabel() == "q / nm$^{-1}$" and ax.get_ylabel() == "azimuth / degree" and ax.get_xscale() == "log"
    ax.figure.canvas.draw()
    plt.close(ax.figure)
    nothing = sl.q_azimuth_map(
        Frame(np.zeros((ROWS, COLUMNS)), exposure_s=1.0), map=view, q_edges_per_nm=reduce.make_bins(view, bins=30)
    )
    with pytest.raises(ValueError, match="no cell holds intensity"):
        plot.plot_q_azimuth_map(nothing)
