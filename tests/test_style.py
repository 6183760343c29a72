# SPDX-License-Identifier: GPL-3.0-or-later
"""Form is kept by machines: formatting, lint, types; and the tree carries no path of one machine."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent


def tracked(*patterns):
    listed = subprocess.run(["git", "ls-files", "-z", "--", *patterns], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout, so the list of files is not known")
    return [name for name in listed.stdout.split("\0") if name]


def run(*command):
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]


def test_clang_format_has_nothing_to_change():
    run(BIN / "clang-format", "--dry-run", "--Werror", *tracked("*.cpp", "*.hpp"))


def test_ruff_has_nothing_to_say():
    run(BIN / "ruff", "check", "python", "tests", "demo-data")
    run(BIN / "ruff", "format", "--check", "python", "tests", "demo-data")


def test_mypy_has_nothing_to_say():
    run(sys.executable, "-m", "mypy", "--strict", "python/sievelight")


def test_clang_tidy_has_nothing_to_say_of_what_changed():
    """Of files that differ from the last commit, where clang-tidy is installed; tests/static/tidy.py looks at all."""
    done = subprocess.run(
        [sys.executable, "tests/static/tidy.py", "--changed", "HEAD"], cwd=ROOT, capture_output=True, text=True
    )
    if done.returncode == 2:
        pytest.skip(f"{done.stderr.strip()} (Debian: apt-get install clang-tidy-19)")
    if done.stdout.startswith("0 files"):
        pytest.skip("nothing of the core differs from the last commit: clang-tidy had nothing to look at")
    assert done.returncode == 0, done.stdout[-4000:]


def test_notebooks_carry_no_outputs():
    wrong = [
        name
        for name in tracked("*.ipynb")
        if re.search(r'"(output_type|execution_count": \d)', (ROOT / name).read_text())
    ]
    assert not wrong


def test_every_source_names_its_licence():
    sources = tracked("*.cpp", "*.hpp", "*.py", "*.sh", "CMakeLists.txt", "*/CMakeLists.txt")
    assert len(sources) > 60
    assert not [n for n in sources if "SPDX-License-Identifier: GPL-3.0-or-later" not in (ROOT / n).read_text()[:300]]
