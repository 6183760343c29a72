# SPDX-License-Identifier: GPL-3.0-or-later
"""The benchmark in its short form: peers agree with us, everything is saved. Times are not looked at."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

RUN = Path(__file__).resolve().parent / "run.py"


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """What the command saved."""
    out = tmp_path_factory.mktemp("bench")
    done = subprocess.run(
        [sys.executable, str(RUN), "--short", "--out", str(out)],
        capture_output=True,
        text=True,
        env={**os.environ, "MPLBACKEND": "Agg"},
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-4000:]
    return out, json.loads((out / "bench.json").read_text()), done.stdout


def test_the_short_form_finds_every_result_right(result):
    out, saved, text = result
    works = " ".join(r["work"] for r in saved["rows"])
    for word in (
        "in memory",
        "dead time",
        "plain",
        "bitshuffle-LZ4",
        "gzip",
        "area",
        "q map",
        "calibration",
        "preview",
        "default",
    ):
        assert word in works, word
        assert word in text
    assert all(r["ours"] > 0 for r in saved["rows"])
    assert {"table.md", "table.png", "growth.png"} <= {p.name for p in out.iterdir()}


def test_the_kernels_are_part_of_it(result):
    out, saved, text = result
    names = {k["name"].split("/")[0] for k in saved["kernels"]}
    assert {"bit_planes", "bitshuffle_lz4", "q_map", "bin_sums", "area_sums", "multiply", "posterior"} <= names
    assert "bin_sums/256" in text
    assert os.uname().nodename not in (out / "kernels.json").read_text() or len(os.uname().nodename) < 4


def test_the_machine_is_described_without_a_name(result):
    _, saved, _ = result
    assert saved["machine"]["cores"] >= 1
    assert {"numpy", "scipy", "h5py", "hdf5plugin"} <= set(saved["machine"]["versions"])
    assert os.uname().nodename not in json.dumps(saved["machine"]) or len(os.uname().nodename) < 4


def test_a_wrong_result_ends_the_run():
    sys.path.insert(0, str(RUN.parent))
    try:
        import bench_timing
    finally:
        sys.path.pop(0)
    with pytest.raises(AssertionError, match="do not agree"):
        bench_timing.require(False, "an example")
