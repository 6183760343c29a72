# SPDX-License-Identifier: GPL-3.0-or-later
"""clang-tidy over the core, with a memory: a file is looked at again when it or one of its headers has changed.

    python tests/static/tidy.py                  every file of the core
    python tests/static/tidy.py --changed main   the files that differ from a branch
    python tests/static/tidy.py FILE ...

Needs build/compile_commands.json (any build makes it) and clang-tidy (Debian: clang-tidy-19). Says what it found and ends
with 1 if there is anything; 2 where clang-tidy is missing.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import hashlib
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CORE = ROOT / "cpp"
INCLUDE = re.compile(r'^\s*#\s*include\s*"(sievelight/[^"]+)"', re.M)
# What GCC's flags in the compile database mean nothing to Clang for, and warnings of which -Werror makes errors.
EXTRA = ("--extra-arg=-Wno-error", "--extra-arg=-Wno-unknown-warning-option")


def find_tidy() -> str | None:
    """The newest clang-tidy of the machine."""
    names = ["clang-tidy", *(f"clang-tidy-{n}" for n in range(30, 13, -1))]
    return next((found for name in names[1:] + names[:1] if (found := shutil.which(name))), None)


def with_headers(file: Path, seen: set[Path]) -> set[Path]:
    """The file and all of our headers that it includes."""
    if file in seen or not file.exists():
        return seen
    seen.add(file)
    for name in INCLUDE.findall(file.read_text(encoding="utf-8")):
        with_headers(CORE / name, seen)
    return seen


def digest(file: Path, tidy: str) -> str:
    """Changes exactly when the answer of clang-tidy may."""
    sha = hashlib.sha256((ROOT / ".clang-tidy").read_bytes() + tidy.encode())
    for part in sorted(with_headers(file, set())):
        sha.update(part.read_bytes())
    return sha.hexdigest()


def look(file: Path, tidy: str, build: Path, memory: Path) -> str:
    """What clang-tidy says of a file; empty for nothing."""
    known = memory / digest(file, tidy)
    if known.exists():
        return known.read_text(encoding="utf-8")
    done = subprocess.run(
        [tidy, "-p", str(build), "--quiet", *EXTRA, str(file)], capture_output=True, text=True, cwd=ROOT
    )
    said = "\n".join(line for line in done.stdout.splitlines() if line.strip())
    if done.returncode and not said:
        said = done.stderr[-2000:]
    memory.mkdir(parents=True, exist_ok=True)
    known.write_text(said, encoding="utf-8")
    return said


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--changed", metavar="BRANCH")
    parser.add_argument("--build", type=Path, default=ROOT / "build")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    tidy = find_tidy()
    if tidy is None or not (options.build / "compile_commands.json").exists():
        print("clang-tidy or build/compile_commands.json is missing", file=sys.stderr)
        return 2
    files = [file.resolve() for file in options.files] or sorted(CORE.glob("sievelight/*/*.cpp"))
    if options.changed:
        listed = subprocess.run(
            ["git", "diff", "--name-only", options.changed, "--", "cpp"], cwd=ROOT, capture_output=True, text=True
        ).stdout.split()
        touched = {ROOT / name for name in listed}
        files = [file for file in files if with_headers(file, set()) & touched]
    found = 0
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        answers = pool.map(lambda file: look(file, tidy, options.build, options.build / "tidy"), files)
        for file, said in zip(files, answers):
            if said:
                found += 1
                print(f"== {file.relative_to(ROOT)}\n{said}", flush=True)
    print(f"{len(files)} files, {found} with something to say")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
