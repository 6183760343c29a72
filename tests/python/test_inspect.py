# SPDX-License-Identifier: GPL-3.0-or-later
"""What a file holds, in Python and on the command line."""

import json
import subprocess
import sys

import h5py
import matplotlib
import numpy as np
import pytest
import tifffile

import sievelight as sl

matplotlib.use("agg")


def command(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "sievelight", "inspect", *map(str, arguments)], capture_output=True, text=True
    )


@pytest.fixture
def stack(tmp_path):
    data = np.full((3, 20, 30), 7, dtype=np.int32)
    data[1, 2, 3], data[0, 4, 5], data[2, 6, 7] = -1, 900, 800
    path = tmp_path / "stack.h5"
    with h5py.File(path, "w") as file:
        entry = file.create_group("entry")
        entry.attrs["NX_class"] = "NXentry"
        detector = entry.create_group("detector")
        detector.attrs["NX_class"] = "NXdetector"
        detector["data"] = data
        detector["count_time"] = 2.0
        detector["count_time"].attrs["units"] = "s"
        detector["saturation_value"] = 800
        mask = np.zeros((20, 30), dtype=np.uint32)
        mask[0] = 1
        detector["pixel_mask"] = mask
    return path


def test_frames_are_counted_and_masked_pixels_have_their_reasons(stack):
    found = sl.inspect_file(stack)
    assert found.kind == "frames"
    facts = found.to_dict()
    assert (facts["exposures"], facts["rows"], facts["columns"], facts["format"]) == (3, 20, 30, "HDF5")
    assert facts["exposures_s"] == [2.0, 2.0, 2.0]
    assert facts["masked"] == {
        "pixels": 33,
        "saturated (numbers in all exposures)": 2,
        "markers (numbers in all exposures)": 1,
        "pixel_mask of the file": 30,
    }
    assert facts["total_counts"] == 21 * (600 - 33)
    assert facts["percentiles"][50] == 21
    assert facts["metadata"] == {"saturation_value": 800.0}
    shown = repr(found)
    for words in ("3 x frame of 20 x 30", "2 s each", "saturation value", "pixel_mask of the file: 30"):
        assert words in shown
    assert "<table>" in found._repr_html_()
    assert json.loads(json.dumps(facts))["notes"] == found.notes


def test_strips_masks_and_curves_are_told_apart(tmp_path):
    np.savetxt(tmp_path / "strip.dat", np.column_stack([np.arange(50), np.arange(50) + 3]), fmt="%d")
    strip = sl.inspect_file(tmp_path / "strip.dat")
    assert strip.kind == "frames" and "strip of 1 x 50" in repr(strip)
    q = np.linspace(0.1, 1, 20)
    np.savetxt(tmp_path / "two.dat", np.column_stack([q, 1.5 / q]))
    np.savetxt(tmp_path / "three.dat", np.column_stack([q, 1.5 / q, 0.1 * q]))
    for name, uncertain in (("two.dat", False), ("three.dat", True)):
        curve = sl.inspect_file(tmp_path / name)
        assert curve.kind == "curves"
        facts = curve.to_dict()["curves"][0]
        assert (facts["points"], facts["q_high_per_nm"], facts["has_uncertainty"]) == (20, 1.0, uncertain)
        assert any("q taken as 1/nm" in note for note in curve.notes)
    drawn = np.zeros((6, 8), dtype=bool)
    drawn[1, 2] = True
    np.save(tmp_path / "mask.npy", drawn)
    tifffile.imwrite(tmp_path / "mask.tif", drawn)
    with h5py.File(tmp_path / "truth.h5", "w") as file:
        file["mask"] = drawn
    with h5py.File(tmp_path / "numbers.h5", "w") as file:
        file["mask"] = drawn.astype("uint8")
    for name in ("mask.npy", "mask.tif", "truth.h5", "numbers.h5"):
        found = sl.inspect_file(tmp_path / name)
        assert (found.kind, found.to_dict()["masked_pixels"]) == ("mask", 1), name
        assert found.mask.shape == (6, 8)


@pytest.mark.parametrize("causes", [True, False])
def test_a_csv_of_our_own_is_read_in_the_units_of_its_header(tmp_path, causes):
    curve = sl.examples.curve()
    sl.write_csv(tmp_path / "tile.csv", curve, causes=causes)
    found = sl.inspect_file(tmp_path / "tile.csv")
    facts = found.to_dict()["curves"][0]
    assert (found.kind, facts["points"], facts["unit"], found.notes) == ("curves", len(curve), "1/cm", [])


def test_a_study_names_its_table(tmp_path):
    (tmp_path / "study.toml").write_text('[study]\ntitle = "Pores"\nmeasurements = "m.csv"\n[instrument]\n')
    found = sl.inspect_file(tmp_path / "study.toml")
    assert found.kind == "study" and "m.csv (missing)" in repr(found)
    with pytest.raises(sl.InputError, match="nothing to draw"):
        found.plot()
    (tmp_path / "study.toml").write_text("[study\n")
    with pytest.raises(sl.DataError, match="not valid TOML"):
        sl.inspect_file(tmp_path / "study.toml")


def test_every_kind_is_drawn(stack, tmp_path):
    import matplotlib.pyplot as plt

    np.savetxt(tmp_path / "strip.dat", np.arange(50) - 1, fmt="%d")
    np.save(tmp_path / "mask.npy", np.eye(6, 8, dtype=bool))
    np.savetxt(tmp_path / "curve.dat", np.column_stack([np.linspace(0.1, 1, 20), np.linspace(2.5, 1.1, 20)]))
    for path in (stack, tmp_path / "strip.dat", tmp_path / "mask.npy", tmp_path / "curve.dat"):
        ax = sl.inspect_file(path).plot()
        ax.figure.canvas.draw()
        assert ax.get_xlabel()
        plt.close(ax.figure)


def test_what_cannot_be_read_says_so(tmp_path):
    for path, words in ((tmp_path, "is a folder"), (tmp_path / "none.h5", "There is no file")):
        with pytest.raises(sl.DataError, match=words):
            sl.inspect_file(path)
    (tmp_path / "broken.h5").write_bytes(b"\x89HDF\r\n\x1a\n" + bytes(40))
    with pytest.raises(sl.DataError, match="truncated or broken"):
        sl.inspect_file(tmp_path / "broken.h5")


def test_the_command_prints_a_table_and_draws(stack, tmp_path):
    done = command(stack, "--picture", tmp_path / "out.png")
    assert done.returncode == 0, done.stderr
    assert "3 x frame of 20 x 30" in done.stdout
    assert (tmp_path / "out.png").read_bytes().startswith(b"\x89PNG")
    again = command(stack, "--picture", tmp_path / "out.png")
    assert again.returncode == 2 and "--force" in again.stderr
    said = command(stack, "--json", tmp_path / "none.h5")
    assert said.returncode == 1 and "There is no file" in said.stderr
    assert json.loads(said.stdout)[0]["exposures"] == 3
    none = command(tmp_path)
    assert none.returncode == 2 and "is a folder" in none.stderr and "Traceback" not in none.stderr
