# SPDX-License-Identifier: GPL-3.0-or-later
"""Do the tests notice when the arithmetic is wrong? A sample of the core's operators is changed, one at a time.

    python tests/static/mutate.py 40 --seed 1                     forty mutants, spread over all folders
    python tests/static/mutate.py 10 --files cpp/sievelight/reduce/*.cpp
    python tests/static/mutate.py --guards                        the guards against hostile files, each taken out once

A mutant is an operator (+ - * / < <= > >= == && ||), a sign or a small number of one line; the folder's own GoogleTest
program is built and run in a build folder of its own. Killed: a test fails, the program crashes, does not end, or does not
compile (counted apart and not as killed). Survived: every test of the folder passes. Never runs in CI.
"""

from __future__ import annotations

import argparse
import random
import re
import signal
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BUILD = ROOT / "build-mutate"
SWAPS = {
    "+": "-", "-": "+", "*": "/", "/": "*", "<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==",
    "&&": "||", "||": "&&", "+=": "-=", "-=": "+=", "*=": "/=", "std::sin(": "std::cos(", "std::cos(": "std::sin(",
    "std::min(": "std::max(", "std::max(": "std::min(", ".minCoeff(": ".maxCoeff(", "std::sqrt(": "std::abs(",
}  # fmt: skip
OPERATOR = re.compile(
    r" (\+|-|\*|/|<|<=|>|>=|==|!=|&&|\|\||\+=|-=|\*=) |(std::(?:sin|cos|min|max|sqrt)\(|\.minCoeff\()"
)
NUMBER = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)(?![\w.])")
# Lines that say something to people, to the compiler, or about types.
NO_ARITHMETIC = re.compile(
    r'^\s*(//|#|using |template|namespace|throw |return DataError|static_assert)|"|operator|include|std::vector<|<<'
)

# file, what stands there, what it becomes, and the test program and filter that must fail.
GUARDS = [
    ("base/hdf5_outside.cpp", 'if (!find(parent, named, "HDF5_EXT_PREFIX").outside) return 0;', "return 0;", "base", "Outside.*"),
    ("base/hdf5_outside.cpp", "      if (found.outside)\n", "      if (false)\n", "base", "Outside.*"),
    ("base/hdf5_outside.cpp", "      if (!is_allowed(place, parent, prefixes))\n        throw", "      if (false)\n        throw", "base", "Outside.*"),
    ("base/hdf5_outside.cpp", "if (failed || !fs::is_regular_file(whole, failed)) return false;", "if (failed) return false;", "base", "Outside.APipe*"),
    ("base/hdf5_driver.cpp", "    if (heap_may_pass(ours(file), at, out)) return 0;", "    if (heap_may_pass(ours(file), at, out) || true) return 0;", "base", "Hdf5Driver.*"),
    ("base/hdf5_driver.cpp", "(free && claimed < head_bytes)", "false", "base", "Hdf5Driver.*"),
    ("base/hdf5_guard.cpp", "if (layout == H5D_CHUNKED) Chunks(", "if (false) Chunks(", "base", "Guard.*"),
    ("base/hdf5_guard.cpp", "  if (bytes > most_decoded(stored))\n", "  if (false)\n", "base", "Guard.*"),
    ("base/hdf5_guard.cpp", "    if (!may_use_filter(filter.id))\n", "    if (false)\n", "base", "Guard.*"),
    ("base/hdf5_guard.cpp", "if (along > most_chunks / chunks)", "if (false)", "base", "Guard.*"),
    ("base/hdf5_guard.cpp", "  if (filtered) return H5Dget", "  if (true) return H5Dget", "base", "Guard.*"),
    ("frames/cbf_file.cpp", "  if (!may_use_cbf_library())\n", "  if (false)\n", "frames", "CbfFile.*"),
    ("frames/cbf_file.cpp", "elements / most_per_byte > section.bytes", "false", "frames", "CbfFile.*"),
    ("frames/cbf_file.cpp", "if (md5_base64(bytes) != sum->second)", "if (false)", "frames", "CbfFile.*"),
    ("frames/cif_text.cpp", "*size <= static_cast<double>(left)", "true", "frames", "CifText.*"),
    ("frames/byte_offset.cpp", "  if (packed.size() < width) throw", "  if (false) throw", "frames", "ByteOffset.*"),
    ("frames/byte_offset.cpp", "if (!holds<T>(value)) throw", "if (false) throw", "frames", "ByteOffset.*"),
    ("frames/nexus_tree.cpp", "if (std::find(above.begin(), above.end(), identity) != above.end()) continue;", "", "frames", "NexusTree.*"),
    ("frames/frame_data.cpp", "  if (frames > most_unwritten + 64 * stored)\n", "  if (false)\n", "frames", "FrameData.*"),
    ("frames/frame_data.cpp", "  require_stored(std::min(frames, chunk[0]) * rows * columns * type_.size, stored, label);\n", "", "frames", "FrameData.*"),
    ("frames/frame_data.cpp", "  require_stored(rows * columns * type_.size, stored, label);\n", "", "frames", "FrameData.*"),
    ("curve/curve.cpp", "std::abs(curve.intensity[i]) > most_intensity", "false", "curve", "Curve.*"),
    ("curve/whole_file.cpp", "size > most_bytes", "false", "curve", "WholeFile.*"),
]  # fmt: skip


def candidates(file: Path) -> list[tuple[int, int, str, str]]:
    """(line, column, what stands there, what it becomes) of every place that may be changed."""
    found = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines()):
        if NO_ARITHMETIC.search(line):
            continue
        code = line.split("//")[0]
        for match in OPERATOR.finditer(code):
            word = match.group(1) or match.group(2)
            if word in SWAPS and not (
                word in "*<>" and re.search(r"(const|auto|Eigen::\w+|double|int|char)\s*$", code[: match.start()])
            ):
                found.append((number, match.start(1 if match.group(1) else 2), word, SWAPS[word]))
        for match in NUMBER.finditer(code):
            word = match.group(1)
            if "for (" not in code and "<" not in code:
                found.append(
                    (number, match.start(1), word, str(float(word) + 1) if "." in word else str(int(word) + 1))
                )
    return found


def run(*command: str, seconds: int) -> int:
    try:
        return subprocess.run(
            command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=seconds
        ).returncode
    except subprocess.TimeoutExpired:
        return -1


def judge(folder: str, wanted: str, seconds: int) -> str:
    """What the folder's tests say of the tree as it stands."""
    if run("cmake", "--build", str(BUILD), "--target", f"{folder}_test", "-j2", seconds=1800):
        return "does not compile"
    program = BUILD / "tests" / "cpp" / folder / f"{folder}_test"
    return (
        "survived"
        if run(str(program), "--gtest_brief=1", f"--gtest_filter={wanted}", seconds=seconds) == 0
        else "killed"
    )


def with_text(file: Path, text: str, folder: str, wanted: str, seconds: int) -> str:
    original = file.read_text(encoding="utf-8")
    try:
        file.write_text(text, encoding="utf-8")
        return judge(folder, wanted, seconds)
    finally:
        file.write_text(original, encoding="utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", nargs="?", type=int, default=20)
    parser.add_argument("--files", nargs="*", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=int, default=300, help="until a test program counts as not ending")
    parser.add_argument("--guards", action="store_true")
    options = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that the file at work is put back
    run("cmake", "-S", str(ROOT), "-B", str(BUILD), "-G", "Ninja", "-DCMAKE_BUILD_TYPE=None", "-DCMAKE_CXX_FLAGS=-O1",
        "-DSIEVELIGHT_TESTS=ON", seconds=300)  # fmt: skip
    core = ROOT / "cpp" / "sievelight"
    score: dict[str, int] = {}
    if options.guards:
        for name, there, becomes, folder, wanted in GUARDS:
            file = core / name
            text = file.read_text(encoding="utf-8")
            if text.count(there) < 1:
                print(f"{name}: there is no '{there.strip()}' any more", flush=True)
                return 1
            answer = with_text(file, text.replace(there, becomes, 1), folder, wanted, options.seconds)
            score[answer] = score.get(answer, 0) + 1
            print(f"{answer:16} {name}: {there.strip()[:80]}", flush=True)
    else:
        files = [f.resolve() for f in options.files] if options.files else sorted(core.glob("*/*.cpp"))
        places = [(file, *place) for file in files for place in candidates(file)]
        random.Random(options.seed).shuffle(places)
        sampled: list[tuple[Path, int, int, str, str]] = []
        per_folder: dict[str, int] = {}
        most = -(-options.count // len({file.parent for file in files}))
        for place in places:  # spread over the folders
            folder = place[0].parent.name
            if per_folder.get(folder, 0) < most and len(sampled) < options.count:
                per_folder[folder] = per_folder.get(folder, 0) + 1
                sampled.append(place)
        for file, line, column, word, becomes in sampled:
            lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
            old = lines[line]
            lines[line] = old[:column] + becomes + old[column + len(word) :]
            answer = with_text(file, "".join(lines), file.parent.name, "*", options.seconds)
            score[answer] = score.get(answer, 0) + 1
            print(
                f"{answer:16} {file.relative_to(core)}:{line + 1}: {word} -> {becomes}: {old.strip()[:100]}", flush=True
            )
    counted = score.get("killed", 0) + score.get("survived", 0)
    print(f"{score.get('killed', 0)} of {counted} killed; {score.get('does not compile', 0)} did not compile")
    return 0


if __name__ == "__main__":
    sys.exit(main())
