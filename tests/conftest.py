# SPDX-License-Identifier: GPL-3.0-or-later
"""Shared by all Python tests: where the reference measurements are, and the demo's frames."""

import csv
import importlib.util
import os
import shutil
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def reference_data():
    """Folder of open reference measurements; the test skips, in words, where it is absent."""
    folder = Path(os.environ.get("SIEVELIGHT_REFERENCE_DATA", ROOT.parent / "shared" / "reference-data"))
    if not folder.is_dir():
        pytest.skip(f"no reference data at {folder}; set SIEVELIGHT_REFERENCE_DATA to the folder that holds them")
    return folder


def make_demo(folder, **options):
    """Simulate the demo's frames into a folder, with the generator that shares no code with the package."""
    source = ROOT / "demo-data"
    sys.path.insert(0, str(source))
    try:
        spec = importlib.util.spec_from_file_location("make_frames", source / "make_frames.py")
        module = importlib.util.module_from_spec(spec)
        sys.modules["make_frames"] = module  # dataclasses look their module up
        spec.loader.exec_module(module)
        module.make_demo(folder, **options)
    finally:
        sys.path.remove(str(source))
    if not (folder / "study.toml").exists():
        shutil.copy(source / "study.toml", folder / "study.toml")
    return folder


@pytest.fixture(scope="session")
def small_demo(tmp_path_factory):
    """The demo with two samples a batch and short exposures; tests copy it before they change it."""
    return make_demo(tmp_path_factory.mktemp("small-demo"), quick=True)


@pytest.fixture
def study(small_demo, tmp_path):
    """A copy of the small demo; `edit(name, column=value)` changes cells of its table; a new name adds a row."""
    folder = tmp_path / "study"
    shutil.copytree(small_demo, folder)

    def edit(row_name, **cells):
        with open(folder / "measurements.csv", newline="") as file:
            table = list(csv.DictReader(file))
        for column in cells:
            for row in table:
                row.setdefault(column, "")
        known = [row for row in table if row["name"] == row_name]
        if not known:
            known = [dict.fromkeys(table[0], "") | {"name": row_name}]
            table += known
        for row in known:
            row.update(cells)
        with open(folder / "measurements.csv", "w", newline="") as file:
            writer = csv.DictWriter(file, table[0].keys())
            writer.writeheader()
            writer.writerows(table)

    # The quick, non-sampled inversion keeps these tests short; what is tested is the handling of rows.
    text = (folder / "study.toml").read_text()
    (folder / "study.toml").write_text(
        text.replace("[distribution]", '[distribution]\nmethod = "evidence"\nwhat_if = "none"')
    )
    return folder, edit
