# SPDX-License-Identifier: GPL-3.0-or-later
"""Long stacks and many samples: read in blocks with the same numbers, no handle and no frame kept."""

import os
import sys
from pathlib import Path

import h5py
import numpy as np
import pytest

from sievelight.study import loading, run_study

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "crash"))
from crash_tools import make_study


def smooth(counts):
    """The mean of every ring of a frame of make_study(), without its noise."""
    row, column = np.indices(counts.shape)
    ring = np.rint(np.hypot(column - 20.0, row - 128.0)).astype(int).ravel()
    return (np.bincount(ring, counts.ravel()) / np.maximum(np.bincount(ring), 1))[ring].reshape(counts.shape)


def stack_study(folder, exposures=12, spike=False):
    """One sample of many short exposures (no two alike) over a shared background."""
    path = make_study(folder, 1)
    rng = np.random.default_rng(3)
    with h5py.File(folder / "s00000.h5", "r+") as file:
        detector = file["entry/instrument/detector"]
        mean = smooth(detector["data"][0])
        detector["count_time"][...] = detector["count_time"][()] / exposures
        del detector["data"]
        counts = rng.poisson(np.broadcast_to(mean / exposures, (exposures, *mean.shape))).astype("i4")
        if spike:
            counts[5, 40, 200] = 400
        detector.create_dataset("data", data=counts, compression="gzip", compression_opts=1, chunks=(1, *mean.shape))
    return path


def blocks_of(monkeypatch, exposures_in_memory):
    monkeypatch.setattr(loading, "MOST_BYTES", exposures_in_memory * loading.BYTES_A_PIXEL * 256 * 256)


@pytest.mark.parametrize("spike", [False, True])
def test_a_stack_read_in_blocks_gives_the_same_curve(tmp_path, monkeypatch, spike):
    path = stack_study(tmp_path / "study", spike=spike)
    whole = run_study(path, output=tmp_path / "whole")
    blocks_of(monkeypatch, 8)
    parts = run_study(path, output=tmp_path / "parts")
    assert not whole.failed and not parts.failed
    a, b = whole.samples[0].curve, parts.samples[0].curve
    assert np.array_equal(a.intensity, b.intensity) and np.array_equal(a.private_u, b.private_u)
    told = [f.finding for f in parts.findings]
    assert any("12 exposures are more than" in text and "blocks of 4" in text for text in told)
    assert {f.finding for f in whole.findings} == {text for text in told if "in blocks of" not in text}
    assert any("pixels are left out because one exposure" in text for text in told) == spike


def test_saturation_is_of_single_readings_also_in_blocks(tmp_path, monkeypatch):
    path = stack_study(tmp_path / "study")
    with h5py.File(tmp_path / "study" / "s00000.h5") as file:
        highest = int(file["entry/instrument/detector/data"][()].max())
    text = path.read_text()
    blocks_of(monkeypatch, 8)
    for limit, told in ((highest + 1, 0), (highest, 1)):  # sums of blocks are above either
        path.write_text(text + f"[detector]\nsaturation_value = {limit}\n[mask]\nfind_defects = false\n")
        result = run_study(path, output=tmp_path / str(limit))
        assert not result.failed
        said = [f for f in result.findings if f.finding.startswith("The detector is saturated")]
        assert len(said) == told and all("in 12 exposures" in f.evidence for f in said)


def test_dead_time_wants_single_exposures_and_says_what_to_do(tmp_path, monkeypatch):
    path = stack_study(tmp_path / "study")
    path.write_text(path.read_text() + "[detector]\ndead_time_s = 1e-7\n")
    blocks_of(monkeypatch, 8)
    result = run_study(path)
    assert result.failed == ["s00000"]
    error = result.findings[0]
    assert "dead time is corrected in each" in error.finding and "at most 8" in error.mend


def memory_mib():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


@pytest.mark.skipif(not os.path.exists("/proc/self/fd"), reason="the system does not list a process's files in /proc")
def test_a_study_keeps_no_file_open_and_no_frame_in_memory(tmp_path):
    path = make_study(tmp_path / "study", 40)
    seen = []

    def progress(done, total, what):
        if what.startswith("s0"):
            seen.append((len(os.listdir("/proc/self/fd")), memory_mib()))

    result = run_study(path, progress=progress)
    assert len(result.samples) == 40 == len(seen)
    assert len({files for files, _ in seen}) == 1, seen
    # A frame is 0.6 MiB; a sample's curve, sizes and findings, which the result holds, are far less.
    assert (seen[-1][1] - seen[9][1]) / 30 < 0.3, [round(m, 1) for _, m in seen]
