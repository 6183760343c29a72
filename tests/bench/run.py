# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast Sievelight is beside general-purpose libraries and the machine's own limits: print the table, save it.

    .venv/bin/python tests/bench/run.py [--short] [--out FOLDER] [--only WORD ...]

Every row: our time, a peer written with NumPy, SciPy, h5py and hdf5plugin that gives the same numbers (checked before
anything is timed; a wrong result ends the run, a slow one never does), the limit, and whether the targets are met.
Ways take turns and times are medians; ratios are medians of the ratios of neighbours in time. `--short` does the same
on small data: for tests, its times mean nothing. The core's innermost loops follow, by Google Benchmark (kernels). The
table goes to the screen and, with all numbers and pictures, to FOLDER (default: build/bench). Room for about 5 GB is
needed in the folder for temporary files.
"""

from __future__ import annotations

import os

# A core type forced on OpenBLAS would slow NumPy, and us beside it; it is taken away before NumPy is loaded.
os.environ.pop("OPENBLAS_CORETYPE", None)
# One thread for the peers' matrices: they are small, and two threads wait for each other longer than they work.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import json
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import bench_frames  # noqa: E402
import bench_growth  # noqa: E402
import bench_inversion  # noqa: E402
import bench_kernels  # noqa: E402
import bench_machine  # noqa: E402
import bench_study  # noqa: E402
import bench_tables  # noqa: E402
from bench_timing import Row, table  # noqa: E402


def rows(short: bool, only: list[str]) -> list[Row]:
    """The rows of the table, in the order of the work."""
    wanted = lambda word: not only or word in only  # noqa: E731
    out: list[Row] = []
    repeats = 3 if short else 25
    if any(wanted(word) for word in ("memory", "stacks", "area", "tables")):
        scene = bench_frames.Scene(300, 250, 120, 3) if short else bench_frames.Scene()
        if wanted("memory"):
            out += bench_frames.memory_rows(scene, repeats)
        if wanted("stacks"):
            with tempfile.TemporaryDirectory() as folder:
                for kind in bench_frames.KINDS:
                    count = 6 if short else 200
                    out.append(bench_frames.stack_row(scene, Path(folder), kind, count, 2 if short else 3))
        if wanted("area"):
            out.append(bench_frames.area_row(scene, repeats))
        if wanted("tables"):
            out.append(bench_tables.tables_row(scene, 2 if short else 9))
    if wanted("calibration"):
        out.append(bench_tables.calibration_row(*((450, 400) if short else (2250, 2000)), 1 if short else 5))
    if wanted("inversion"):
        out.append(bench_inversion.preview_row(120, repeats))
        out.append(bench_inversion.sampled_row(1 if short else repeats, short=short))
    if wanted("study") and not short:
        out += bench_study.study_rows(1000, "evidence")
    if wanted("wheel") and not short:
        out.append(bench_study.wheel_row())
    return out


def picture(made: list[Row], path: Path) -> None:
    """Our time beside each other's, on a log scale."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, ax = plt.subplots(figsize=(10, 0.55 * len(made) + 1.6), layout="constrained")
    for k, r in enumerate(made):
        ax.plot([1e3 * r.ours], [k], "o", color="C0", ms=8, label="ours" if k == 0 else None, zorder=3)
        for place, (name, value) in enumerate(sorted(r.others.items(), key=lambda item: item[1])):
            peer = name.startswith(("NumPy", "SciPy", "h5py"))
            ax.plot([1e3 * value], [k], "s" if peer else "|", color="C1" if peer else "0.45", ms=6 if peer else 14)
            ax.annotate(
                name,
                (1e3 * value, k),
                (0, 7 if place % 2 == 0 else -12),  # neighbours stand above and below
                textcoords="offset points",
                fontsize=6,
                ha="center",
                color="0.3",
            )
    ax.set_yticks(range(len(made)), [r.work for r in made], fontsize=8)
    ax.invert_yaxis()
    ax.set_xscale("log")
    ax.set_xlabel("time / ms (square: peer, bar: limit or the row it is compared with)")
    ax.grid(axis="x", color="0.9")
    ax.legend(frameon=False, loc="lower right")
    figure.savefig(path, dpi=130)
    plt.close(figure)


def main() -> None:
    """Run, print, save."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--short", action="store_true", help="small data, for tests")
    parser.add_argument("--out", type=Path, default=HERE.parent.parent / "build" / "bench")
    words = ("memory", "stacks", "area", "tables", "calibration", "inversion", "study", "wheel", "growth", "kernels")
    parser.add_argument("--only", nargs="+", choices=words, default=[])
    chosen = parser.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    machine = bench_machine.describe()
    print(bench_machine.words(machine), flush=True)
    made = rows(chosen.short, chosen.only)
    text = table(made)
    print(text)
    result = {"machine": machine, "short": chosen.short, "rows": [r.as_dict() for r in made]}
    if made:
        picture(made, chosen.out / "table.png")
    if not chosen.only or "growth" in chosen.only:
        curves = bench_growth.growth(chosen.short, 2 if chosen.short else 11)
        result["growth"] = {name: {**c, "slope": bench_growth.exponent(c)} for name, c in curves.items()}
        for name, c in result["growth"].items():
            print(f"{name}: slope {c['slope']:.2f}")
        bench_growth.picture(curves, chosen.out / "growth.png")
    if not chosen.only or "kernels" in chosen.only:
        result["kernels"] = bench_kernels.kernels(chosen.short, chosen.out)
        print(bench_kernels.words(result["kernels"]))
    (chosen.out / "bench.json").write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    (chosen.out / "table.md").write_text(bench_machine.words(machine) + "\n\n" + text + "\n", encoding="utf-8")
    print(f"saved: table.md, bench.json and pictures in {chosen.out.name}/")


if __name__ == "__main__":
    main()
