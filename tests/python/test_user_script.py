# SPDX-License-Identifier: GPL-3.0-or-later
"""Types for those who use the package: mypy --strict accepts a user's script and finds the slips in another."""

import os
import re
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

import sievelight as sl

SCRIPTS = Path(__file__).parent / "user_scripts"


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """An environment in which the package is installed as at a user's, so that its py.typed and its stubs count.

    What the editable installation of developers shows to mypy is another matter.
    """
    folder = tmp_path_factory.mktemp("user") / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", folder], check=True)
    (packages,) = folder.glob("lib/python*/site-packages")
    (packages / "sievelight").symlink_to(Path(sl.__file__).parent, target_is_directory=True)
    (packages / "others.pth").write_text(f"{sysconfig.get_paths()['purelib']}\n")
    return folder / "bin" / "python"


def mypy(script, python, tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--config-file=", f"--python-executable={python}",
         f"--cache-dir={python.parents[2] / 'cache'}", SCRIPTS / script],
        cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


@pytest.mark.slow
def test_mypy_accepts_a_users_script(installed, tmp_path):
    code, said = mypy("right.py", installed, tmp_path)
    assert code == 0, said


@pytest.mark.slow
def test_mypy_finds_every_slip_and_nothing_else(installed, tmp_path):
    lines = (SCRIPTS / "wrong.py").read_text().splitlines()
    slips = {(n, m[1]) for n, line in enumerate(lines, start=1) if (m := re.search(r"# wrong: ([\w-]+)$", line))}
    assert len(slips) >= 8
    code, said = mypy("wrong.py", installed, tmp_path)
    found = {(int(n), kind) for n, kind in re.findall(r"wrong\.py:(\d+): error: .*\[([\w-]+)\]$", said, re.M)}
    assert code == 1 and found == slips, said


def test_the_script_runs(tmp_path):
    headless = {**os.environ, "MPLBACKEND": "agg"}
    command = [sys.executable, SCRIPTS / "right.py"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, env=headless)
    assert done.returncode == 0, done.stderr
    assert "{'kiln 2': 'different'}" in done.stdout and "report.html" in done.stdout
    assert (tmp_path / "sizes.png").stat().st_size > 1000
