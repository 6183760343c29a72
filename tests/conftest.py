# SPDX-License-Identifier: GPL-3.0-or-later
"""Shared by all Python tests: where the reference measurements are, and the demo's frames."""

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
