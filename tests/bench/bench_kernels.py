# SPDX-License-Identifier: GPL-3.0-or-later
"""The innermost loops of the core, timed by Google Benchmark (tests/bench/kernels), as a part of the one command."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "build" / "tests" / "bench" / "kernels" / "kernels"


def kernels(short: bool, out: Path) -> list[dict]:
    """What Google Benchmark measured, one entry a kernel and size; its own file is saved too. A wrong result ends the run."""
    if not PROGRAM.exists():
        raise SystemExit(f"{PROGRAM.relative_to(ROOT)} is not built; run `bash .ci/setup.sh` and start again.")
    saved = out / "kernels.json"
    run = subprocess.run(
        [
            PROGRAM,
            f"--benchmark_min_time={0.001 if short else 0.5}",
            f"--benchmark_out={saved}",
            "--benchmark_out_format=json",
        ],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
    )
    if run.returncode != 0:
        raise SystemExit(
            f"a kernel's result is wrong, or the program broke down:\n{run.stdout[-2000:]}{run.stderr[-2000:]}"
        )
    measured = json.loads(saved.read_text(encoding="utf-8"))
    measured["context"].pop("host_name", None)
    measured["context"].pop("executable", None)
    saved.write_text(json.dumps(measured, indent=1) + "\n", encoding="utf-8")
    return measured["benchmarks"]


def words(measured: list[dict]) -> str:
    """A line a kernel: time, and what a second does of elements or of sums and products."""
    lines = []
    for one in measured:
        if one["run_type"] != "iteration":
            continue
        rate = one.get("items_per_second", one.get("flop"))
        unit = "elements/s" if "items_per_second" in one else "flop/s"
        lines.append(
            f"{one['name']:28} {one['cpu_time']:12.4g} {one['time_unit']}" + (f" {rate:12.3g} {unit}" if rate else "")
        )
    return "\n".join(lines)
