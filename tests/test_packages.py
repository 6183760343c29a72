# SPDX-License-Identifier: GPL-3.0-or-later
"""What is handed out works elsewhere: the installed C++ library, the source archive, and the wheel made from it."""

import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
BUILD = ROOT / "build"


def run(*command, cwd=ROOT, env=None):
    done = subprocess.run([str(c) for c in command], cwd=cwd, env=env, capture_output=True, text=True)
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


def make_archive(source, to):
    """The source archive of a tree, as `pip` and `build` ask the back end for it."""
    env = {k: v for k, v in os.environ.items() if k != "SOURCE_DATE_EPOCH"}
    call = "import sys; from scikit_build_core.build import build_sdist; build_sdist(sys.argv[1])"
    run(sys.executable, "-c", call, to, cwd=source, env=env)
    (made,) = Path(to).glob("*.tar.gz")
    return made


def unpack(archive, to):
    """Unpack a source archive; gives its one folder."""
    with tarfile.open(archive) as file:
        file.extractall(to, filter="data")
    (folder,) = Path(to).iterdir()
    return folder


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    return make_archive(ROOT, tmp_path_factory.mktemp("archive"))


@pytest.fixture(scope="module")
def wheel(archive, tmp_path_factory):
    """The wheel, built from the unpacked source archive alone."""
    import pybind11

    folder = unpack(archive, tmp_path_factory.mktemp("unpacked"))
    # Paths like those of the main build, so that the compiler's cache knows the files: seconds instead of minutes.
    (folder / ".venv").symlink_to(sys.prefix)
    headers = folder / ".venv" / Path(pybind11.get_cmake_dir()).relative_to(sys.prefix)
    to = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "pip", "wheel", folder, "--no-deps", "--no-build-isolation", "-w", to,
        f"-Cbuild-dir={folder / 'build'}", "-Ccmake.define.SIEVELIGHT_WERROR=ON",
        f"-Ccmake.define.pybind11_DIR={headers}",
        env=os.environ | {"CCACHE_BASEDIR": str(folder), "CCACHE_NOHASHDIR": "1"})  # fmt: skip
    (made,) = to.glob("sievelight-*.whl")
    return made


def test_the_source_archive_is_the_same_to_the_byte_wherever_and_whenever_it_is_made(archive, tmp_path):
    elsewhere = unpack(archive, tmp_path / "elsewhere")
    for file in elsewhere.rglob("*"):
        os.utime(file, (1e9, 1e9))
        file.chmod(file.stat().st_mode & 0o700)
    again = make_archive(elsewhere, tmp_path / "again")
    assert again.name == archive.name and again.read_bytes() == archive.read_bytes()


def test_the_source_archive_holds_every_source_and_no_stranger(archive):
    listed = subprocess.run(["git", "ls-files", "cpp", "python"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("this tree is no git checkout: what belongs to it is not known")
    with tarfile.open(archive) as file:
        members = {m.name.split("/", 1)[1]: m for m in file.getmembers() if m.isfile()}
        for name in listed.stdout.split():
            if (ROOT / name).exists():  # else it is being removed
                assert file.extractfile(members[name]).read() == (ROOT / name).read_bytes(), name
    assert all(m.mode & 0o777 in (0o644, 0o755) and (m.uid, m.gid, m.uname) == (0, 0, "") for m in members.values())
    assert not [n for n in members if n.endswith((".so", ".o", ".pyc")) or n.startswith(("build", ".venv"))]


@pytest.mark.slow
def test_the_wheel_carries_types_stubs_and_the_report_page_and_is_small(wheel):
    with zipfile.ZipFile(wheel) as file:
        names = file.namelist()
    for wanted in ("py.typed", "_core.pyi", "report/template.html.j2", "study/run.py"):
        assert f"sievelight/{wanted}" in names
    assert any(name.startswith("sievelight/_core.") and name.endswith(".so") for name in names)
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert not [name for name in names if name.endswith((".hpp", ".a"))]
    assert wheel.stat().st_size < 15e6


def needed(name):
    """A package and all that it needs to run, by their declarations alone."""
    found, left = {}, [name]
    while left:
        name = left.pop()
        for text in metadata.distribution(name).requires or []:
            asked = Requirement(text)
            if asked.name.lower() not in found and (asked.marker is None or asked.marker.evaluate({"extra": ""})):
                found[asked.name.lower()] = metadata.distribution(asked.name)
                left.append(asked.name)
    return found


@pytest.mark.slow
def test_the_wheel_does_a_study_in_a_clean_environment_without_a_compiler(wheel, tmp_path):
    clean = tmp_path / "clean"
    run(sys.executable, "-m", "venv", "--without-pip", clean)
    (site,) = clean.glob("lib/python*/site-packages")
    # Declared dependencies and nothing else, from the environment that runs this test.
    here = Path(sysconfig.get_paths()["purelib"])
    for package in needed("sievelight").values():
        for top in {file.parts[0] for file in package.files if file.parts[0] not in ("..", "__pycache__")}:
            if not (site / top).exists():
                (site / top).symlink_to(here / top)
    run(sys.executable, "-m", "pip", "--python", clean / "bin" / "python", "install", "--no-deps", "--no-index", wheel)
    sys.path.insert(0, str(ROOT / "tests" / "crash"))
    try:
        from crash_tools import make_study
    finally:
        sys.path.pop(0)
    study = make_study(tmp_path / "study", 2)
    bare = {"PATH": str(clean / "bin"), "HOME": str(tmp_path), "MPLCONFIGDIR": str(tmp_path / "mpl")}
    seen = run(
        clean / "bin" / "python", "-c",
        "import shutil, importlib.util as i, sievelight; "
        "print(sievelight.__file__, [shutil.which(c) for c in ('cc', 'c++', 'gcc', 'g++', 'cmake')], i.find_spec('h5py'))",
        cwd=tmp_path, env=bare,
    )  # fmt: skip
    assert seen.startswith(str(site)) and seen.strip().endswith("[None, None, None, None, None] None")
    said = run(clean / "bin" / "sievelight", "run", study, cwd=tmp_path, env=bare)
    assert re.search(r"Report: .*report\.html", said) and (study.parent / "results" / "summary.csv").exists()


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
