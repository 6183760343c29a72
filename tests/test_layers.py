# SPDX-License-Identifier: GPL-3.0-or-later
"""The structure holds: includes and imports point upstream, tests mirror the tree, every file is listed."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CORE = ROOT / "cpp" / "sievelight"
PACKAGE = ROOT / "python" / "sievelight"

FOLDERS = "base curve frames geometry reduce analysis distribution compare plan".split()
RANK = {name: rank for rank, name in enumerate(FOLDERS)}
# The Python side follows the same line and goes on behind it.
MODULES = "_core errors text_files files units tables material curve frame_formats frames geometry plot reduce analysis two_phase ordered distribution parametric sensitivity compare series examples plan plot_laws plot_two_phase plot_series plot_plan results inspect calibration study single_file report widgets cli __init__ __main__".split()
MODULE_RANK = {name: rank for rank, name in enumerate(MODULES)}

INCLUDE = re.compile(r'^\s*#\s*include\s*[<"]sievelight/(\w+)[/.]', re.M)


def core_files(pattern="*.[ch]pp"):
    return sorted(CORE.glob(f"*/**/{pattern}"))


def test_includes_point_upstream():
    files = core_files()
    assert len(files) > 30, "the walk found almost no source; is the tree where this test looks?"
    wrong = [
        f"{file.relative_to(CORE)} includes {there}, downstream of it"
        for file in files
        for there in INCLUDE.findall(file.read_text(encoding="utf-8"))
        if RANK.get(there, 99) > RANK[file.relative_to(CORE).parts[0]]
    ]
    assert not wrong, "Move the shared part upstream, or the caller downstream:\n" + "\n".join(wrong)


def imported_modules(file):
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "sievelight":
            parts = node.module.split(".")
            yield from [parts[1]] if len(parts) > 1 else [alias.name for alias in node.names]
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("sievelight."):
                    yield alias.name.split(".")[1]


def test_imports_point_upstream():
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 10
    wrong = []
    for file in files:
        here = file.relative_to(PACKAGE).parts[0].removesuffix(".py")
        assert here in MODULE_RANK, f"{here} has no place in the order; add it to MODULES where data reach it"
        for there in imported_modules(file):
            if MODULE_RANK.get(there, -1) > MODULE_RANK[here]:
                wrong.append(f"{file.relative_to(PACKAGE)} imports {there}, downstream of it")
    assert not wrong, "\n".join(wrong)


def test_the_core_never_sees_python():
    wrong = [str(file) for file in core_files() if "pybind11" in file.read_text(encoding="utf-8")]
    assert not wrong


def test_every_source_is_listed_and_has_its_test():
    missing = []
    for folder in FOLDERS:
        listed = (CORE / folder / "CMakeLists.txt").read_text(encoding="utf-8")
        tests = (ROOT / "tests" / "cpp" / folder / "CMakeLists.txt").read_text(encoding="utf-8")
        for source in (CORE / folder).glob("*.cpp"):
            if not re.search(rf"^\s*{re.escape(source.name)}\s*$", listed, re.M):
                missing.append(f"{folder}/{source.name} is not listed in its CMakeLists.txt")
            test = f"{source.stem}_test.cpp"
            if not (ROOT / "tests" / "cpp" / folder / test).exists() or test not in tests:
                missing.append(f"{folder}/{source.name} has no listed tests/cpp/{folder}/{test}")
    assert not missing, "\n".join(missing)


def test_bindings_hold_no_mathematics():
    """A binding names and converts; loops and mathematical functions belong to the core, beside a test."""
    wrong = []
    for file in sorted((ROOT / "python" / "bindings").glob("bind_*.cpp")):
        code = re.sub(r'"(?:[^"\\]|\\.)*"|//[^\n]*', "", file.read_text(encoding="utf-8"))
        for word in (r"\bstd::(sqrt|exp|log|pow|sin|cos|abs)\b", r"\bwhile\s*\(", r"\.sum\(\)", r"\.array\(\)"):
            wrong += [f"{file.name}: {match.group(0)}" for match in re.finditer(word, code)]
    assert not wrong, "\n".join(wrong)
