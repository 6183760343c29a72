# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: exit codes 0, 1 and 2, results on standard output, messages on standard error."""

import json
import shutil
import subprocess
import sys

import pytest


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
