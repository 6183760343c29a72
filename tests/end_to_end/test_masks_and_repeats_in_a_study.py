# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study leaves out, drawn or found, and what it makes of exposures that are no repeats."""

import h5py
import numpy as np
import pytest
from study_tools import said, sample, write_frame

from sievelight.study import run_study


def change(path, edit):
    """Edit the counts of a frame file in place, whatever their storage: edit(array) -> array."""
    with h5py.File(path, "r+") as file:
        detector = file["entry/instrument/detector"]
        counts = edit(detector["data"][()].copy())
        del detector["data"]
        detector.create_dataset("data", data=counts)
        times = detector["count_time"][()]
        if counts.ndim == 3 and np.shape(times) != (counts.shape[0],):
            del detector["count_time"]
            detector.create_dataset("count_time", data=np.full(counts.shape[0], np.ravel(times)[0])).attrs["units"] = (
                "s"
            )


def add(folder, text):
    path = folder / "study.toml"
    path.write_text(path.read_text() + text)


def test_shapes_and_ranges_of_the_study_file_mask_what_they_say(study):
    folder, _ = study
    before = run_study(folder / "study.toml")
    add(
        folder,
        """
[[mask.rectangle]]
x_px = [0, 99]
y_px = [0, 599]
[[mask.polygon]]
corners_px = [[400, 0], [499, 0], [499, 99]]
[[mask.circle]]
center_px = [300.0, 400.0]
radius_px = 20.5
[[mask.q_range]]
low_per_nm = 0.5
high_per_nm = 0.6
[[mask.values]]
low = 1e5
""",
    )
    after = run_study(folder / "study.toml")
    masked = after.calibration["masked"]
    assert masked[:, :100].all() and masked[10, 490] and masked[400, 320] and masked[420, 300]
    new = masked & ~before.calibration["masked"]
    assert not new[50, 150] and not new[400, 325]
    q = sample(after, "k1-a").curve.q_per_nm
    assert np.any((q > 0.45) & (q < 0.5)) and not np.any((q > 0.505) & (q < 0.595))
    # What is left is what it was: same truth, fewer pixels. The rectangle alone is a fifth of the detector.
    a, b = sample(before, "k1-a").quantity("x50"), sample(after, "k1-a").quantity("x50")
    assert b.value == pytest.approx(a.value, abs=2 * a.u)


def test_a_mask_that_hides_everything_is_refused_in_words(study):
    folder, _ = study
    add(folder, "\n[[mask.circle]]\ncenter_px = [250.0, 300.0]\nradius_px = 2000.0\n")
    result = run_study(folder / "study.toml")
    error = said(result, "study", "error")
    assert "circle" in error or "hides every pixel" in error
    assert not result.samples


def test_the_beamstops_shadow_is_found_without_a_drawn_mask(study):
    folder, _ = study
    drawn = run_study(folder / "study.toml")
    path = folder / "study.toml"
    path.write_text(path.read_text().replace('mask = "frames/mask.h5"', ""))
    found = run_study(path)
    assert any("beamstop's shadow was found" in f.finding for f in found.findings)
    # The drawn mask holds the stop with an ample margin; of its core nothing may be left.
    y, x = np.mgrid[:600, :500]
    core = np.hypot(x - 248.9, y - 300.6) < 10
    assert (found.calibration["masked"] & core).sum() > 0.95 * core.sum()
    assert found.calibration["masked"].sum() < 2 * drawn.calibration["masked"].sum()
    add(folder, "\n[mask]\nfind_beamstop = false\n")
    assert not any("beamstop" in f.finding for f in run_study(path).findings)


def test_spikes_and_crystals_are_left_out_and_said(study):
    folder, _ = study
    before = run_study(folder / "study.toml")

    def hit(counts):
        counts[0, 120, 130] += 60  # one exposure, one pixel: a cosmic hit
        counts[:, 420:423, 350:353] += 400  # the same place in all: a crystal
        return counts

    change(folder / "frames" / "k1-a.h5", hit)
    after = run_study(folder / "study.toml")
    notes = said(after, "k1-a", "note")
    assert "1 pixels are left out because one exposure" in notes and "column 130, row 120: " in notes
    assert "Reflections of single crystals are left out: 1 spots" in notes and "column 351, row 421" in notes
    a, b = sample(before, "k1-a").curve, sample(after, "k1-a").curve
    # The same counts but for some dozen pixels: far inside the counting error of every bin.
    assert np.max(np.abs(b.intensity - a.intensity) / a.private_u) < 1
    add(folder, "\n[mask]\nfind_spots = false\n")
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("[reduce]", "[reduce]\nremove_spikes = false"))
    kept = run_study(path)
    assert not said(kept, "k1-a", "note")
    # 3600 counts more in the bin of 420, 350, whose own error is some 1 %.
    assert np.max((sample(kept, "k1-a").curve.intensity - a.intensity) / a.private_u) > 10


def test_a_bubble_in_one_exposure_is_set_aside_with_a_finding(study):
    folder, _ = study
    rng = np.random.default_rng(5)

    def exposures(counts):
        # Thinned Poisson counts are Poisson: four exposures of the sample, the third with a bubble that takes a fifth.
        rest, parts = counts.sum(axis=0).astype(np.int64), []
        for share in (0.25, 1 / 3, 0.5, 1.0):
            parts.append(rng.binomial(rest, share))
            rest = rest - parts[-1]
        parts[2] = rng.binomial(parts[2], 0.8)
        return np.array(parts, dtype="i4")

    change(folder / "frames" / "k1-b.h5", exposures)
    result = run_study(folder / "study.toml")
    words = said(result, "k1-b")
    assert "3 of 4 exposures are used" in words
    assert "2" in words.split("3 of 4")[0]
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("[reduce]", "[reduce]\ncompare_repeats = false"))
    all_used = run_study(path)
    assert "exposures are used" not in said(all_used, "k1-b")
    ratio = sample(all_used, "k1-b").curve.intensity / sample(result, "k1-b").curve.intensity
    # A fifth missing from a quarter of the counts; the subtracted cell makes the ratio a little smaller.
    assert np.median(ratio) == pytest.approx(0.95, abs=0.01)


def rings(distance_mm, pixel_mm, wavelength_nm, shape, center):
    """Counts of silver behenate (d = 5.838 nm) over a falling background, six rings and more in view."""
    y, x = np.mgrid[: shape[0], : shape[1]]
    theta = np.arctan(np.hypot(x - center[0], y - center[1]) * pixel_mm / distance_mm) / 2
    q = 4 * np.pi / wavelength_nm * np.sin(theta)
    mean = 4 / (1 + (q / 0.5) ** 2) + 1
    for order in range(1, 14):
        mean = mean + 60 / order * np.exp(-0.5 * ((q - 2 * np.pi * order / 5.838) / 0.02) ** 2)
    return np.random.default_rng(6).poisson(mean).astype("i4")


def test_a_calibrant_in_a_samples_row_is_a_finding(tmp_path):
    write_frame(tmp_path / "a.h5", rings(150.0, 0.1, 0.154, (300, 320), (160.0, 150.0)), 10.0)
    (tmp_path / "measurements.csv").write_text("name,role,file\ntile,sample,a.h5\n")
    (tmp_path / "study.toml").write_text(
        """[instrument]
wavelength_nm = 0.154
distance_mm = 151.0
beam_center_px = [160.0, 150.0]
pixel_size_mm = [0.1, 0.1]
[distribution]
method = "evidence"
"""
    )
    assert "rings of silver behenate" in said(run_study(tmp_path / "study.toml"), "tile")


def test_one_file_in_two_rows_is_a_finding(study):
    folder, edit = study
    edit("k1-a", file="frames/k1-b.h5")
    words = said(run_study(folder / "study.toml"), "k1-b")
    assert "same frames as 'k1-a'" in words
