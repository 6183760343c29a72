# SPDX-License-Identifier: GPL-3.0-or-later
"""One bad measurement says what, where and how to mend it; the others complete; nothing written is lost."""

import h5py
import numpy as np
import pytest

from sievelight.errors import InputError
from sievelight.study import run_study


def others_completed(result, bad, count=6):
    assert bad not in [s.name for s in result.samples]
    assert len(result.samples) == count - 1


def finding(result, name):
    found = [f for f in result.findings if f.measurement == name and f.severity == "error"]
    assert found, f"no error about {name}: {result.findings}"
    return f"{found[0].finding} {found[0].evidence} {found[0].mend}"


def test_a_missing_file_is_named_with_its_row(study):
    folder, edit = study
    edit("k1-a", file="frames/none.h5")
    result = run_study(folder / "study.toml")
    others_completed(result, "k1-a")
    said = finding(result, "k1-a")
    assert "frames/none.h5" in said and "row" in said
    assert "k1-a" in (folder / "results" / "findings.csv").read_text()


def test_a_truncated_file_and_one_that_holds_no_frames_are_told_apart(study):
    folder, _ = study
    broken = folder / "frames" / "k1-a.h5"
    broken.write_bytes(broken.read_bytes()[: broken.stat().st_size // 2])
    (folder / "frames" / "k2-a.h5").write_text("no frames here\n")
    result = run_study(folder / "study.toml")
    assert {s.name for s in result.samples} == {"k1-b", "k2-b", "k3-a", "k3-b"}
    assert "truncated or broken" in finding(result, "k1-a")
    assert "holds no line of numbers" in finding(result, "k2-a")


def rewrite(path, change):
    """Replace the detector's counts by `change(counts)`, as floats without compression."""
    with h5py.File(path, "r+") as file:
        detector = file["entry/instrument/detector"]
        counts = np.asarray(file["frames"] if "frames" in file else _counts(detector))
        del detector["data"]
        detector["data"] = change(counts)


def _counts(detector):
    try:
        return detector["data"][()]
    except OSError:
        pytest.skip("this h5py cannot decode the demo's bitshuffle-LZ4 frames (hdf5plugin is missing)")


def test_frames_of_another_shape_are_named_with_both_shapes(study):
    pytest.importorskip("hdf5plugin")
    folder, _ = study
    rewrite(folder / "frames" / "k1-a.h5", lambda counts: counts[..., :400])
    result = run_study(folder / "study.toml")
    others_completed(result, "k1-a")
    said = finding(result, "k1-a")
    assert "400" in said and "500" in said


def test_frames_of_nan_are_refused(study):
    pytest.importorskip("hdf5plugin")
    folder, _ = study
    rewrite(folder / "frames" / "k1-a.h5", lambda counts: np.full(counts.shape, np.nan, dtype="f4"))
    result = run_study(folder / "study.toml")
    others_completed(result, "k1-a")
    assert "k1-a" in finding(result, "k1-a")


def test_a_transmission_beyond_one_says_its_value_and_what_may_be_swapped(study):
    folder, edit = study
    edit("k1-a", incident_intensity="400000", transmitted_intensity="900000")
    result = run_study(folder / "study.toml")
    others_completed(result, "k1-a")
    said = finding(result, "k1-a")
    assert "transmission" in said and "swapped" in said


def test_a_background_row_that_does_not_exist_names_the_nearest(study):
    folder, edit = study
    edit("k1-a", background="empty-cel")
    result = run_study(folder / "study.toml")
    others_completed(result, "k1-a")
    assert "Did you mean 'empty-cell'" in finding(result, "k1-a")


def test_a_broken_background_takes_its_samples_with_it_in_words(study):
    folder, edit = study
    edit("empty-cell", file="frames/none.h5")
    result = run_study(folder / "study.toml")
    assert not result.samples
    assert "background 'empty-cell'" in finding(result, "k1-a")
    assert "none.h5" in finding(result, "empty-cell")


def test_a_calibrant_without_rings_in_view_leaves_the_nominal_geometry_and_says_so(study):
    folder, edit = study
    edit("silver-behenate", file="frames/empty-beam.h5", exposure_s="20")
    result = run_study(folder / "study.toml")
    assert len(result.samples) == 6
    assert "ring" in finding(result, "silver-behenate")
    assert any("nominal" in f.finding for f in result.findings if f.severity == "warning")


def test_a_misspelt_column_stops_before_anything_is_written(study):
    folder, _ = study
    table = folder / "measurements.csv"
    table.write_text(table.read_text().replace("thickness_mm", "thicknes_mm", 1))
    with pytest.raises(InputError, match="Did you mean 'thickness_mm'"):
        run_study(folder / "study.toml")
    assert not (folder / "results").exists()


def test_names_that_look_like_paths_or_markup_stay_text(study):
    from sievelight.report import write_report

    folder, edit = study
    edit("k1-a", name="../<script>alert(1)</script>")
    result = run_study(folder / "study.toml")
    assert len(result.samples) == 6
    page = write_report(result).read_text()
    assert "<script>alert" not in page and "&lt;script&gt;" in page
    assert {p.parent.name for p in (folder / "results").rglob("*.h5")} == {"curves", "distributions"}
    assert len(list((folder / "results" / "curves").iterdir())) == 6


def test_a_defect_of_the_program_costs_one_sample_and_says_so(study, monkeypatch):
    from sievelight.study import sample

    folder, _ = study
    whole = sample.process

    def fails(shared, m, findings, **options):
        if m.name == "k1-a":
            raise IndexError("list index out of range")
        return whole(shared, m, findings, **options)

    monkeypatch.setattr(sample, "process", fails)
    result = run_study(folder / "study.toml")
    others_completed(result, "k1-a")
    assert "defect of the program" in finding(result, "k1-a")


def test_exposures_that_cannot_be_are_refused_from_the_table_and_from_the_file(study):
    folder, edit = study
    edit("k1-a", exposure_s="-5")
    edit("k1-b", exposure_s="")
    with h5py.File(folder / "frames" / "k1-b.h5", "r+") as file:
        times = file["entry/instrument/detector/count_time"]
        times[...] = -np.abs(times[()])
    result = run_study(folder / "study.toml")
    assert "exposure_s: -5 must be more than zero" in finding(result, "k1-a")
    assert "exposure" in finding(result, "k1-b") and "-5" in finding(result, "k1-b")
    assert len(result.samples) == 4


def test_a_missing_monitor_is_named_where_the_study_divides_by_it(study):
    folder, edit = study
    edit("k1-a", incident_intensity="", incident_intensity_u="", transmission="0.33")
    with h5py.File(folder / "frames" / "k1-a.h5", "r+") as file:
        monitors = []
        file.visititems(
            lambda name, item: monitors.append(name) if "NXmonitor" in str(item.attrs.get("NX_class")) else None
        )
        for name in monitors:
            del file[name]
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("[reduce]", '[reduce]\nnormalize_by = "monitor"'))
    result = run_study(path)
    assert "monitor" in finding(result, "k1-a")
    others_completed(result, "k1-a")


def test_a_dark_of_another_detector_is_refused(study):
    folder, _ = study
    with h5py.File(folder / "frames" / "dark.h5", "r+") as file:
        detector = file["entry/instrument/detector"]
        smaller = detector["data"][()][..., :-4]
        del detector["data"]
        detector["data"] = smaller
        for name in [n for n, item in detector.items() if getattr(item, "shape", ()) == (600, 500)]:
            del detector[name]
    words = finding(run_study(folder / "study.toml"), "dark")
    assert "600 × 496" in words and "600 × 500" in words
