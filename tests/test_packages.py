# SPDX-License-Identifier: GPL-3.0-or-later
"""What is handed out works elsewhere: the installed C++ library, and the wheel."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
BUILD = ROOT / "build"


def run(*command, cwd=ROOT):
    done = subprocess.run([str(c) for c in command], cwd=cwd, capture_output=True, text=True)
    assert done.returncode == 0, f"{command}\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
    return done.stdout


@pytest.fixture(autouse=True)
def built():
    if not (BUILD / "build.ninja").exists():
        pytest.skip("no build folder; bash tests/run.sh makes it")


@pytest.mark.slow
def test_a_program_outside_finds_and_uses_the_installed_library(tmp_path):
    run("cmake", "--install", BUILD, "--component", "library", "--prefix", tmp_path / "installed")
    assert not list((tmp_path / "installed").rglob("*.so"))
    run("cmake", "-G", "Ninja", "-S", ROOT / "cpp" / "example", "-B", tmp_path / "build",
        f"-DCMAKE_PREFIX_PATH={tmp_path / 'installed'}", "-DCMAKE_BUILD_TYPE=Release")  # fmt: skip
    run("cmake", "--build", tmp_path / "build")
    said = run(tmp_path / "build" / "pore_size", tmp_path)
    assert "true 12 nm" in said


@pytest.mark.slow
def test_the_wheel_carries_types_stubs_and_the_report_page(tmp_path):
    run(sys.executable, "-m", "pip", "wheel", ROOT, "--no-deps", "--no-build-isolation", "-w", tmp_path,
        f"-Cbuild-dir={BUILD}", "-Ccmake.define.SIEVELIGHT_TESTS=ON", "-Ccmake.define.SIEVELIGHT_WERROR=ON")  # fmt: skip
    (wheel,) = tmp_path.glob("sievelight-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    for wanted in ("py.typed", "_core.pyi", "report/template.html.j2", "study/run.py"):
        assert f"sievelight/{wanted}" in names
    assert any(name.startswith("sievelight/_core.") and name.endswith(".so") for name in names)
    assert not [name for name in names if name.endswith((".hpp", ".a"))]


@pytest.mark.slow
def test_the_stub_of_the_core_is_that_of_the_built_module(tmp_path):
    run(Path(sys.executable).parent / "pybind11-stubgen", "sievelight._core", "-o", tmp_path,
        "--numpy-array-use-type-var", "--ignore-unresolved-names", ".*")  # fmt: skip
    fresh = (tmp_path / "sievelight" / "_core.pyi").read_text()
    kept = (ROOT / "python" / "sievelight" / "_core.pyi").read_text()
    assert fresh == kept, "the bindings changed: make the stub again, see DEVELOPERS.md"


def test_the_package_imports_fast_and_without_matplotlib():
    code = "import sys, sievelight; sys.exit(int(any(m in sys.modules for m in ('matplotlib', 'jinja2', 'rich', 'typer'))))"
    assert subprocess.run([sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": ""}).returncode == 0
