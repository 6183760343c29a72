# SPDX-License-Identifier: GPL-3.0-or-later
"""The calibration of an instrument from one file, its picture and its command. Rings are drawn by NumPy."""

import json
import subprocess
import sys

import h5py
import numpy as np
import pytest

import sievelight as sl
from sievelight import geometry, plot

try:
    import tomllib
except ModuleNotFoundError:  # Python 3.10
    import tomli as tomllib

TRUTH = {"distance_mm": 400.0, "beam_center_x_px": 140.7, "beam_center_y_px": 120.2}


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """Two exposures of behenate rings; the file knows wavelength and pixel size, and a beam point long moved."""
    rng = np.random.default_rng(7)
    y, x = np.indices((250, 300))
    two_theta = np.arctan(np.hypot((x - 140.7) * 0.2, (y - 120.2) * 0.2) / 400.0)
    q = 4 * np.pi / 0.154187 * np.sin(two_theta / 2)
    expected = 5.0 + 10.0 / np.maximum(q, 0.1) ** 4
    for n in range(1, 6):
        expected += 150.0 / n * np.exp(-0.5 * ((q - 2 * np.pi * n / 5.838) / 0.03) ** 2)
    path = tmp_path_factory.mktemp("calibrant") / "rings.h5"
    with h5py.File(path, "w") as out:
        detector = out.create_group("entry/instrument/detector")
        out["entry"].attrs["NX_class"] = "NXentry"
        out["entry/instrument"].attrs["NX_class"] = "NXinstrument"
        detector.attrs["NX_class"] = "NXdetector"
        detector["data"] = rng.poisson(expected / 2, (2, 250, 300)).astype(np.int32)
        for name, value in (
            ("x_pixel_size", 0.2),
            ("y_pixel_size", 0.2),
            ("beam_center_x", 60.0),
            ("beam_center_y", 60.0),
        ):
            detector[name] = value
            detector[name].attrs["units"] = "mm" if "size" in name else "pixel"
        beam = out.create_group("entry/instrument/monochromator")
        beam.attrs["NX_class"] = "NXmonochromator"
        beam["wavelength"] = 0.154187
        beam["wavelength"].attrs["units"] = "nm"
    return path


def test_a_file_is_calibrated_from_nothing_but_what_it_says(file):
    done = sl.calibrate(file)
    for name, truth in TRUTH.items():
        assert abs(getattr(done.result.geometry, name) - truth) < 4 * done.result.u(name), name
    lines = tomllib.loads(done.toml)["instrument"]
    assert lines["distance_mm"] == pytest.approx(done.result.geometry.distance_mm, abs=5e-4)
    assert lines["pixel_size_mm"] == [0.2, 0.2]
    assert any("beam point of (60.0, 60.0)" in note for note in done.notes)
    assert json.loads(json.dumps(done.values()))["distance_u_mm"] == done.result.u("distance_mm")


def test_frames_and_mask_are_chosen(file):
    one = sl.calibrate(file, frames=[0])
    assert one.result.u("distance_mm") > sl.calibrate(file).result.u("distance_mm")  # half of the counts
    mask = np.zeros((250, 300), bool)
    mask[:100] = True
    assert not np.any(sl.calibrate(file, mask=mask).result.y_px < 98)
    with pytest.raises(sl.InputError, match=r"mask of shape \(3, 3\)"):
        sl.calibrate(file, mask=np.zeros((3, 3), bool))


def test_what_is_not_known_is_asked_for(tmp_path):
    path = tmp_path / "bare.h5"
    with h5py.File(path, "w") as out:
        out["data"] = np.full((40, 40), 3, np.int32)
    with pytest.raises(sl.InputError, match="does not say wavelength_nm and pixel_size_mm"):
        sl.calibrate(path)


def test_the_picture_shows_every_ring_and_point(file):
    done = sl.calibrate(file, tilt=True)
    frame, scatter = plot.calibration(done.result, counts=done.counts, masked=done.masked)
    assert (frame.get_xlabel(), scatter.get_xlabel()) == ("column / px", "azimuth / degrees")
    drawn = sum(len(line.get_xdata()) for line in scatter.lines if str(line.get_label()).startswith("ring"))
    assert drawn == done.result.x_px.size
    assert "distance" in scatter.texts[0].get_text() and "pitch" in scatter.texts[0].get_text()
    done.save_picture(file.with_suffix(".png"))
    assert file.with_suffix(".png").stat().st_size > 10_000


def run(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "sievelight", "calibrate", *map(str, arguments)], capture_output=True, text=True
    )


def test_the_command_prints_the_lines_to_paste(file, tmp_path):
    done = run(file, "--frames", "0-1", "--picture", tmp_path / "rings.png")
    assert done.returncode == 0, done.stderr
    assert tomllib.loads(done.stdout[done.stdout.index("[instrument]") :])["instrument"]["wavelength_nm"] == 0.154187
    assert (tmp_path / "rings.png").exists()
    again = run(file, "--picture", tmp_path / "rings.png")
    assert again.returncode == 2 and "--force" in again.stderr
    known = run(file, "--distance-mm", 430, "--beam-center-px", "150,115", "--pixel-size-mm", "0.2", "--json")
    assert abs(json.loads(known.stdout)["distance_mm"] - 400.0) < 0.1


def test_a_wrong_call_of_the_command_ends_in_two_and_words(file):
    for arguments, words in (
        ((file, "--material", "unobtainium"), "Known are: silver behenate"),
        ((file, "--material", "silicon"), "ring calibration"),
        ((file, "--beam-center-px", "12"), "--beam-center-px is '12'"),
        ((file, "--frames", "a"), "--frames is 'a'"),
        ((file.with_name("none.h5"),), "none.h5"),
    ):
        done = run(*arguments)
        assert done.returncode == 2, arguments
        assert words in done.stderr and "Traceback" not in done.stderr


def strip_counts():
    """A strip of 1280 pixels of 0.05 mm, 150 mm away, its beam at 640.3 px behind a stop."""
    x = np.arange(1280)
    two_theta = np.arctan(np.abs(x - 640.3) * 0.05 / 150.0)
    q = 4 * np.pi / 0.154187 * np.sin(two_theta / 2)
    expected = 50.0 + 100.0 / np.maximum(q, 0.15) ** 4
    for n in range(1, 7):
        expected += 2000.0 * 0.7**n * np.exp(-0.5 * ((q - 2 * np.pi * n / 5.838) / 0.04) ** 2)
    expected[np.abs(x - 640.3) < 30] = 0.0
    return np.random.default_rng(3).poisson(expected)[None, :]


def test_a_strip_needs_no_branch():
    counts = strip_counts()
    found = geometry.calibrate_rings(counts, wavelength_nm=0.154187, pixel_size_mm=(0.05, 8.0))
    assert abs(found.geometry.distance_mm - 150.0) < 4 * found.u("distance_mm")
    assert abs(found.geometry.beam_center_x_px - 640.3) < 4 * found.u("beam_center_x_px")
    start = found.geometry.replace(distance_mm=160.0, beam_center_x_px=650.0)
    assert geometry.calibrate_rings(counts, start=start).geometry == found.geometry
    assert [c.id for c in geometry.geometry_components(found)] == ["geometry 1", "geometry 2", "calibrant spacing"]
    frame, scatter = plot.calibration(found, counts=counts)
    assert (frame.get_xlabel(), scatter.get_xlabel()) == ("column / px", "pixel")
