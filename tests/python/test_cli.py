# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: exit codes 0, 1 and 2, results on standard output, messages on standard error."""

import json
import os
import shutil
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest
import typer

from sievelight import cli
from sievelight.cli.picture import curve_picture, frame_picture


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


def test_every_command_has_examples_whose_options_exist():
    """Each line of an example is understood by its command: parsed, not run."""
    import shlex

    import typer

    from sievelight.cli import app
    from sievelight.cli.examples import EXAMPLES

    group = typer.main.get_command(app)
    assert set(group.commands) == set(EXAMPLES)
    for name, text in EXAMPLES.items():
        lines = [line for line in text.splitlines() if line.startswith("sievelight ")]
        assert lines and name in {shlex.split(line)[1] for line in lines}
        for line in lines:
            words = shlex.split(line.split(" > ")[0])
            group.commands[words[1]].make_context(words[1], words[2:])  # UsageError where an option is unknown
        said = sievelight(name, "--help")
        shown = "".join(said.stdout.split())  # narrow terminals break lines
        assert said.returncode == 0 and "Example" in shown and "".join(lines[0].split()) in shown


def test_completion_is_offered_for_the_shells():
    for shell, mark in (("bash", "complete "), ("zsh", "compdef"), ("fish", "complete ")):
        environment = {**os.environ, "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
        said = subprocess.run(
            [sys.executable, "-m", "sievelight", "--show-completion", shell],
            capture_output=True,
            text=True,
            env=environment,
        )
        assert said.returncode == 0 and mark in said.stdout and "sievelight" in said.stdout, said.stderr


def test_inspect_shows_a_small_picture(study, tmp_path):
    frame = sievelight("inspect", study / "frames" / "k1-a.h5").stdout
    picture = [line for line in frame.splitlines() if len(line) > 20 and set(line) <= set(" .:-=+*#%@/")]
    assert 5 < len(picture) < 60 and any("@" in line for line in picture)
    q = np.geomspace(0.1, 3, 50)
    np.savetxt(tmp_path / "curve.txt", np.column_stack([q, q**-4.0, 0.01 * q**-4.0]))
    lines = sievelight("inspect", tmp_path / "curve.txt").stdout.splitlines()
    dots = [line for line in lines if any("\u2800" < c <= "\u28ff" for c in line)]
    # A power law is a straight line on log axes: from the top left corner to the bottom right one.
    first, last = dots[0].rstrip("\u2800 "), dots[-1].rstrip()
    assert dots[0].split()[0].startswith("1e+04") and len(last) > len(first) + 40
    assert lines[lines.index(dots[-1]) + 1].split() == ["0.1", "3"]


def test_the_picture_in_colour_keeps_ring_and_mask():
    counts = np.ones((40, 60))
    counts[:, 30] = 1000
    masked = np.zeros(counts.shape, bool)
    masked[:20, :10] = True
    lines = frame_picture(counts, masked, width=30)
    styles = [[span.style for span in line.spans] for line in lines]
    assert {len(line.plain) for line in lines} == {30}
    assert all("#fee838" in row[15] for row in styles), "the bright column is yellow in every line"
    assert "#c85200" in styles[-1][0] and "#c85200" not in styles[0][0], "row 0 is at the bottom"
    plain = [line.plain for line in frame_picture(counts, masked, width=30, color=False)]
    assert all(row[15] == "@" for row in plain) and plain[-1][0] == "/" and plain[0][0] == " "
    assert frame_picture(counts, np.ones(counts.shape, bool)) == [] and curve_picture([1, 2], [-1, -2]) == []


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
    monkeypatch.setattr(cli.study, "run_with_progress", lambda path: SimpleNamespace(failed=[]))
    monkeypatch.setattr(cli.study, "tell", lambda result, as_json: None)
    maker, log = tmp_path / "make_frames.py", tmp_path / "log"

    def demo():
        with pytest.raises(typer.Exit) as ended:
            cli.study.demo(tmp_path)
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
