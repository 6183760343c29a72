# SPDX-License-Identifier: GPL-3.0-or-later
"""One sample's frames to its curve without a study: the same numbers as a study's, the command, and its refusals."""

import csv
import json

import h5py
import numpy as np
import pytest
from typer.testing import CliRunner

import sievelight as sl
from sievelight.cli import app
from sievelight.errors import DataError, InputError
from sievelight.study import run_study

try:
    import tomllib
except ModuleNotFoundError:  # Python 3.10
    import tomli as tomllib


def cells(folder, name):
    with open(folder / "measurements.csv", newline="") as file:
        return next(row for row in csv.DictReader(file) if row["name"] == name)


def of_monitors(folder, name):
    """Transmission of a row from its monitors and those of the empty beam, with its uncertainty."""
    mine, empty = cells(folder, name), cells(folder, "empty-beam")
    parts = [float(r[c]) for r in (mine, empty) for c in ("transmitted_intensity", "incident_intensity")]
    u = [float(r[c + "_u"]) for r in (mine, empty) for c in ("transmitted_intensity", "incident_intensity")]
    value = parts[0] / parts[1] * parts[3] / parts[2]
    return value, value * float(np.sqrt(np.sum((np.array(u) / parts) ** 2)))


@pytest.fixture
def inputs(small_demo):
    frames = small_demo / "frames"
    return {
        "instrument": small_demo / "study.toml",
        "background": frames / "empty-cell.h5",
        "dark": frames / "dark.h5",
        "empty_beam": frames / "empty-beam.h5",
        "standard": frames / "glassy-carbon.h5",
        "calibrant": frames / "silver-behenate.h5",
        "transmission": of_monitors(small_demo, "k1-a"),
        "background_transmission": of_monitors(small_demo, "empty-cell"),
        "standard_transmission": of_monitors(small_demo, "glassy-carbon"),
        "standard_thickness_mm": (1.055, 0.005),
        "thickness_mm": (0.1514, 0.001),
    }


def test_it_is_the_curve_that_a_study_gives(study, inputs):
    folder, _ = study
    done = sl.reduce_file(folder / "frames" / "k1-a.h5", **inputs)
    assert done.curve.unit == "1/cm" and done.words and any("1/cm" in line for line in done.lines())
    whole = next(s for s in run_study(folder / "study.toml").samples if s.name == "k1-a").curve
    # The study divides by the table's monitors, the file by its own, which are written with fewer digits (1e-7); a
    # study's other rows add nothing to the mask of this demo.
    assert np.allclose(done.curve.q_per_nm, whole.q_per_nm, rtol=1e-12)
    assert np.allclose(done.curve.intensity, whole.intensity, rtol=1e-5, atol=1e-9)
    assert {s["name"] for s in done.steps if s["applied"]} >= {"dark", "background", "thickness", "absolute scale"}
    assert "geometry 1" in done.curve.causes and "absolute scale: table" in done.curve.causes


def test_without_anything_the_file_speaks_and_the_curve_is_relative(small_demo):
    done = sl.reduce_file(small_demo / "frames" / "k1-a.h5")
    assert done.curve.unit == "relative" and "arbitrary" in done.lines()[0]
    words = " ".join(f.finding for f in done.findings)
    assert ("taken from the frame's file" in words and "No transmission" not in words) or "1 is used" in words


def test_what_calibrate_prints_is_what_reduce_reads(small_demo, tmp_path):
    runner = CliRunner()
    frames = small_demo / "frames"
    printed = runner.invoke(
        app,
        ["calibrate", str(frames / "silver-behenate.h5"), "--mask", str(frames / "mask.h5"), "--distance-mm", "600", "--beam-center-px", "251.1,298.4"],
    )  # fmt: skip
    assert printed.exit_code == 0, printed.output
    geometry = tomllib.loads(printed.stdout)["instrument"]
    assert geometry["distance_mm"] == pytest.approx(603.4, abs=1.0)
    # 0.1 mm of the fit and 5e-4 of the spacing.
    assert geometry["distance_u_mm"] == pytest.approx(np.hypot(0.1, 5e-4 * 603.2), rel=0.1)
    (tmp_path / "geometry.toml").write_text(printed.stdout)
    out, picture = tmp_path / "curve.h5", tmp_path / "curve.png"
    call = [
        "reduce", str(frames / "k1-a.h5"), "--instrument", str(tmp_path / "geometry.toml"), "--mask", str(frames / "mask.h5"),
        "--background", str(frames / "empty-cell.h5"), "--dark", str(frames / "dark.h5"), "--transmission", "0.4081,0.001",
        "--background-transmission", "0.9557", "--thickness-mm", "0.1514,0.001", "--output", str(out), "--picture", str(picture),
    ]  # fmt: skip
    done = runner.invoke(app, call)
    assert done.exit_code == 0, done.output
    assert picture.stat().st_size > 5000 and "arbitrary units" in done.stdout
    (read,) = sl.read_curves(out)
    assert {"transmission: k1-a", "distance", "beam centre, row"} <= set(read.curve.causes)
    assert any(step.name == "dead time" for step in read.info.steps)
    again = runner.invoke(app, call)
    assert isinstance(again.exception, InputError) and "exists" in str(again.exception)
    as_csv = runner.invoke(app, [*call[:-4], "--output", str(tmp_path / "c.csv"), "--json"])
    numbers = json.loads(as_csv.stdout)
    assert len(numbers["q_per_nm"]) == read.curve.q_per_nm.size
    back = sl.read_text_curve(tmp_path / "c.csv").curve
    assert np.array_equal(back.intensity, read.curve.intensity)
    assert not list(tmp_path.glob(".*part"))


def test_a_strip_is_reduced_by_the_same_call(tmp_path):
    x = np.arange(640)
    mean = 2000 * np.exp(-((x + 15) / 60.0)) + 20
    with h5py.File(tmp_path / "strip.h5", "w") as file:
        file["entry/instrument/detector/data"] = np.random.default_rng(1).poisson(mean)[None, :].astype("i4")
        file["entry"].attrs["NX_class"] = "NXentry"
        file["entry/instrument/detector"].attrs["NX_class"] = "NXdetector"
    (tmp_path / "g.toml").write_text(
        "[instrument]\nwavelength_nm = 0.154\ndistance_mm = 300.0\nbeam_center_px = [-15.0, 0.0]\npixel_size_mm = [0.05, 5.0]\n[reduce]\nbins = 60\n"
    )
    done = sl.reduce_file(tmp_path / "strip.h5", instrument=tmp_path / "g.toml", exposure_s=10.0)
    q = 4 * np.pi / 0.154 * np.sin(np.arctan((x + 15.0) * 0.05 / 300.0) / 2)
    assert done.curve.q_per_nm[0] >= 0.99 * q[0] and done.curve.q_per_nm[-1] <= 1.01 * q[-1]
    assert done.curve.intensity[0] > 10 * done.curve.intensity[-1]


def refusal(error, call):
    with pytest.raises(error) as caught:
        call()
    return str(caught.value)


def test_refusals_say_what_where_and_how_to_mend(small_demo, inputs, tmp_path):
    sample = small_demo / "frames" / "k1-a.h5"
    assert "no file 'nowhere.h5' (sample)" in refusal(DataError, lambda: sl.reduce_file("nowhere.h5"))
    assert "(background)" in refusal(DataError, lambda: sl.reduce_file(sample, background="nowhere.h5"))
    said = refusal(InputError, lambda: sl.reduce_file(sample, **(inputs | {"transmission": (1.4, 0.01)})))
    assert "1.4" in said and "row 0" not in said
    assert "thickness_mm of the sample is -1" in refusal(InputError, lambda: sl.reduce_file(sample, thickness_mm=-1.0))
    assert "exposure_s is -5" in refusal(InputError, lambda: sl.reduce_file(sample, exposure_s=-5.0))
    everything = tmp_path / "mask.npy"
    np.save(everything, np.ones((600, 500), bool))
    assert "hides every pixel" in refusal(InputError, lambda: sl.reduce_file(sample, mask=everything))
    with h5py.File(tmp_path / "small.h5", "w") as file:
        file["entry/data"] = np.ones((30, 40), "i4")
    assert "30 × 40" in refusal(InputError, lambda: sl.reduce_file(sample, dark=tmp_path / "small.h5", exposure_s=1.0))
    curve = sl.reduce_file(sample).save(tmp_path / "curve.h5")
    assert "curve.h5" in refusal(DataError, lambda: sl.reduce_file(curve))
    bare = tmp_path / "bare.npy"
    np.save(bare, np.random.default_rng(2).poisson(9.0, (40, 50)).astype("i4"))
    assert "wavelength_nm" in refusal(InputError, lambda: sl.reduce_file(bare, exposure_s=1.0))
    assert "is 'many'" in refusal(InputError, lambda: CliRunner().invoke(app, ["reduce", str(sample), "--transmission", "many"], catch_exceptions=False))  # fmt: skip
