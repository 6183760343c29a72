# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: exit codes 0, 1 and 2, results on standard output, messages on standard error."""

import json
import os
import shutil
import subprocess
import sys
from types import SimpleNamespace

import pytest
import typer

from sievelight import cli


def sievelight(*arguments):
    return subprocess.run([sys.executable, "-m", "sievelight", *map(str, arguments)], capture_output=True, text=True)


@pytest.fixture
def study(small_demo, tmp_path):
    folder = tmp_path / "study"
    shutil.copytree(small_demo, folder)
    text = (folder / "study.toml").read_text()
    (folder / "study.toml").write_text(text.replace("[distribution]", '[distribution]\nmethod = "evidence"'))
    return folder


def test_help_names_the_commands_and_the_version_is_the_library_s():
    import sievelight as sl

    said = sievelight("--help")
    assert said.returncode == 0 and "run" in said.stdout and "demo" in said.stdout
    assert sl.__version__ in sievelight("--version").stdout


def test_a_good_study_ends_in_zero_with_its_answer_and_report(study):
    done = sievelight("run", study / "study.toml")
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip().splitlines()[-1] == f"Report: {study / 'results' / 'report.html'}"
    assert (study / "results" / "report.html").exists()


def test_a_failed_measurement_ends_in_one_and_json_names_it(study):
    (study / "frames" / "k1-a.h5").unlink()
    done = sievelight("run", study / "study.toml", "--json")
    assert done.returncode == 1
    said = json.loads(done.stdout)
    assert said["failed"] == ["k1-a"] and "k1-b" in said["samples"]


def test_a_wrong_call_ends_in_two_with_words_and_no_traceback(tmp_path):
    done = sievelight("run", tmp_path / "none.toml")
    assert done.returncode == 2
    assert "no study file" in done.stderr and "Traceback" not in done.stderr
    assert sievelight("rum").returncode == 2


MAKER = """
import sys
from pathlib import Path
out = Path(sys.argv[2])
(out / "frames").mkdir(exist_ok=True)
(out / "measurements.csv").write_text("name")
with open(out / "log", "a") as log:
    log.write("made ")
"""


def test_the_demo_s_frames_are_made_again_exactly_when_their_generator_changed(tmp_path, monkeypatch):
    """By content: neither a clock that jumped nor a run killed half way leaves old frames in use."""
    monkeypatch.setattr(cli, "_run_with_progress", lambda path: SimpleNamespace(failed=[]))
    monkeypatch.setattr(cli, "_tell", lambda result, as_json: None)
    maker, log = tmp_path / "make_frames.py", tmp_path / "log"

    def demo():
        with pytest.raises(typer.Exit) as ended:
            cli.demo(tmp_path)
        assert ended.value.exit_code == 0
        return log.read_text().count("made")

    maker.write_text(MAKER)
    assert demo() == 1
    os.utime(maker, (2e9, 2e9))
    assert demo() == 1
    maker.write_text(MAKER + "# another\n")
    os.utime(maker, (1e9, 1e9))
    assert demo() == 2
    (tmp_path / "frames" / "made_from.txt").unlink()  # as a kill half way leaves it
    assert demo() == 3
