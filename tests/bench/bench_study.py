# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows about the whole: a study of many samples, the size of the wheel, the time of the import."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

from bench_timing import Row, Target

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def study_rows(samples: int, method: str) -> list[Row]:
    """A study of compact frames with inversions, and a tenth of it: time, how busy two cores are, memory."""
    out = []
    few = max(10, samples // 10)
    measured = {}
    for count in (few, samples):
        with tempfile.TemporaryDirectory() as folder:
            call = [sys.executable, str(HERE / "bench_study.py"), folder, str(count), method]
            done = subprocess.run(call, capture_output=True, text=True, check=False)
            if done.returncode:
                raise AssertionError(done.stderr[-2000:])
            measured[count] = json.loads(done.stdout.strip().splitlines()[-1])
    many, less = measured[samples], measured[few]
    made = Row(
        f"study of {samples} compact frames, {method} inversions, two workers",
        many["samples s"] + many["comparison s"],
        {f"{few} of them": less["samples s"] + less["comparison s"]},
        [
            Target("of two cores busy", many["busy"], 0.9, True),
            Target("× memory of its own process", many["own MiB"] / less["own MiB"], 1.5, False),
            Target("× memory of a worker", many["worker MiB"] / less["worker MiB"], 1.25, False),
        ],
        f"{1e3 * many['samples s'] / samples:.0f} ms a sample, {many['own MiB']:.0f} MiB",
    )
    out.append(made)
    return out


def wheel_row(built: Path | None = None) -> Row:
    """Size of the wheel (built here unless given) and the import beyond NumPy's."""
    with tempfile.TemporaryDirectory() as folder:
        if built is None:
            call = [
                sys.executable,
                "-m",
                "pip",
                "wheel",
                "-q",
                "--no-deps",
                "--no-build-isolation",
                "-w",
                folder,
                str(ROOT),
            ]
            subprocess.run(call, check=True, capture_output=True, stdin=subprocess.DEVNULL)
            built = next(Path(folder).glob("*.whl"))
        size = built.stat().st_size / 1e6
    code = "import time, numpy; t = time.perf_counter(); import sievelight; print(time.perf_counter() - t)"
    times = [float(subprocess.check_output([sys.executable, "-c", code], text=True)) for _ in range(9)]
    beyond = median(times[1:])
    return Row(
        "import beyond NumPy's; wheel",
        beyond,
        {},
        [Target("MB wheel", size, 15.0, False), Target("s import", beyond, 0.2, False)],
        "installed in place: checks for changed sources included",
    )


def main() -> None:
    """One study in this fresh process: see study_scale.py, which makes and measures it."""
    import os
    import resource
    import time

    sys.path.insert(0, str(HERE))
    import study_scale

    folder, count, method = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    path = study_scale.make(folder, count, "frames", method)
    os.sync()
    begun, clock = resource.getrusage(resource.RUSAGE_SELF), time.perf_counter()
    result = study_scale.measure(path, 2, False, False)
    wall = time.perf_counter() - clock
    own, workers = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    used = own.ru_utime + own.ru_stime - begun.ru_utime - begun.ru_stime + workers.ru_utime + workers.ru_stime
    print(json.dumps({**result, "busy": used / (2 * wall)}))


if __name__ == "__main__":
    main()
