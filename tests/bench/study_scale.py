# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study costs for 100 and for 1,000 samples, in time and memory, and print the table.

    python tests/bench/study_scale.py [--samples 100 1000] [--workers 1 2] [--kind frames curves] [--method evidence]

Every line is a study of its own in a fresh process: frames (or curves) of spheres (form factor: Rayleigh 1911) with
counting noise, no two alike, in two batches, over a shared background. CPU seconds are of all processes together; they
say more than the clock on a machine that does other work. Peak memory is what the system counted for the study's own
process and for its largest worker. `--cluster` uses a Dask cluster of as many worker processes instead.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

SIDE, PIXEL_MM, DISTANCE_MM, WAVELENGTH_NM, EXPOSURE_S = 256, 0.172, 400.0, 0.154187, 30.0
CENTER = (20.0, 128.0)

STUDY = f"""
[study]
title = "scale"
[instrument]
wavelength_nm = {WAVELENGTH_NM}
distance_mm = {DISTANCE_MM}
beam_center_px = [{CENTER[0]}, {CENTER[1]}]
pixel_size_mm = [{PIXEL_MM}, {PIXEL_MM}]
collimation = "point"
[reduce]
bins = 120
spacing = "log"
q_min_per_nm = 0.2
q_max_per_nm = 3.5
[distribution]
method = "METHOD"
power_law = false
what_if = "none"
contrast_per_cm2 = 1e11
"""


def spheres(q, diameter_nm):
    """Intensity of spheres with a log-normal spread of 10 %, 1 at q = 0."""
    x = np.linspace(-3, 3, 31)
    d = diameter_nm * np.exp(0.1 * x)
    weight = np.exp(-0.5 * x**2) * d**6
    y = np.multiply.outer(q, d / 2)
    return (3 * (np.sin(y) - y * np.cos(y)) / y**3) ** 2 @ weight / weight.sum()


def make(folder: Path, count: int, kind: str, method: str) -> Path:
    """Write a study of `count` samples."""
    import h5py

    from sievelight import curve as curves

    rng = np.random.default_rng(5)
    table = ["name,role,batch,file,background,transmission,thickness_mm"]
    column, row = np.meshgrid(np.arange(SIDE), np.arange(SIDE))
    r = np.hypot(column - CENTER[0], row - CENTER[1]) * PIXEL_MM
    angle = np.arctan(r / DISTANCE_MM)
    q = np.maximum(4 * np.pi / WAVELENGTH_NM * np.sin(angle / 2), 1e-3)
    fine = np.geomspace(1e-3, q.max(), 4000)
    q_curve = np.geomspace(0.2, 3.5, 120)

    def frame(name: str, mean: np.ndarray) -> None:
        with h5py.File(folder / f"{name}.h5", "w") as file:
            detector = file.create_group("entry/instrument/detector")
            counts = rng.poisson(mean * np.cos(angle) ** 3)[None].astype("i4")
            detector.create_dataset("data", data=counts, compression="gzip", compression_opts=1)
            detector["count_time"] = EXPOSURE_S
            detector["count_time"].attrs["units"] = "s"
            for group, kind in (
                ("entry", "NXentry"),
                ("entry/instrument", "NXinstrument"),
                (detector.name, "NXdetector"),
            ):
                file[group].attrs["NX_class"] = kind

    if kind == "frames":
        frame("cell", np.full(q.shape, 20.0))
        table.append("cell,background,,cell.h5,,1.0,")
    for i in range(count):
        batch = "one" if i % 2 else "two"
        diameter = 9.0 + 0.5 * (i % 2) + 0.05 * rng.standard_normal()
        if kind == "frames":
            frame(f"s{i:05d}", 20.0 + 3000.0 * np.interp(q, fine, spheres(fine, diameter)))
            table.append(f"s{i:05d},sample,{batch},s{i:05d}.h5,cell,0.9,1.0")
        else:
            truth = 50 * spheres(q_curve, diameter) + 0.02
            u = 0.02 * truth + 1e-3
            noisy = truth + u * rng.standard_normal(truth.size)
            curves.write_csv(
                folder / f"s{i:05d}.csv", curves.Curve(q_per_nm=q_curve, intensity=noisy, private_u=u, unit="1/cm")
            )
            table.append(f"s{i:05d},curve,{batch},s{i:05d}.csv,,,")
    (folder / "measurements.csv").write_text("\n".join(table) + "\n")
    (folder / "study.toml").write_text(STUDY.replace("METHOD", method))
    return folder / "study.toml"


def measure(path: Path, workers: int, cluster: bool, report: bool) -> dict[str, float]:
    """Run a study in this process and say what it took; workers 0: without any executor."""
    from contextlib import ExitStack

    from sievelight.report import write_report
    from sievelight.study import LocalCrew, cluster_crew, run_study

    marks: dict[str, float] = {}
    with ExitStack() as stack:
        crew = None
        if cluster:
            from distributed import LocalCluster

            made = stack.enter_context(
                LocalCluster(
                    n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
                )
            )
            crew = stack.enter_context(cluster_crew(made.scheduler_address))
        elif workers:
            crew = LocalCrew(workers)
        begun = time.perf_counter()
        result = run_study(
            path, executor=crew, progress=lambda done, total, what: marks.setdefault(what, time.perf_counter())
        )
        end = time.perf_counter()
        own = resource.getrusage(resource.RUSAGE_SELF)  # before the report, which a study may do without
        if report:
            write_report(result)
    reported = time.perf_counter()
    assert not result.failed, result.findings[:3]
    workers_use = resource.getrusage(resource.RUSAGE_CHILDREN)
    compared = marks["comparison of batches"]
    count = len(result.samples)
    first = next(at for what, at in marks.items() if what.endswith("measurements"))
    samples_cpu = own.ru_utime + own.ru_stime + workers_use.ru_utime + workers_use.ru_stime - (end - compared)
    return {
        "samples": count,
        "start s": first - begun,
        "samples s": compared - first,
        "ms a sample": 1e3 * (compared - first) / count,
        "CPU ms a sample": 1e3 * samples_cpu / count,
        "comparison s": end - compared,
        "report s": reported - end if report else float("nan"),
        "own MiB": own.ru_maxrss / 1024,
        "with report MiB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 if report else float("nan"),
        "worker MiB": workers_use.ru_maxrss / 1024 if workers else float("nan"),
    }


def main() -> None:
    """Make the studies, run each way in a process of its own, print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--samples", type=int, nargs="+", default=[100, 1000])
    parser.add_argument("--workers", type=int, nargs="+", default=[2], help="0: without any executor")
    parser.add_argument("--kind", nargs="+", choices=("frames", "curves"), default=["frames"])
    parser.add_argument("--method", default="evidence")
    parser.add_argument("--cluster", action="store_true")
    parser.add_argument("--report", action="store_true")
    parser.add_argument("--one", nargs=2, metavar=("STUDY", "WORKERS"), help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.one:
        print(json.dumps(measure(Path(chosen.one[0]), int(chosen.one[1]), chosen.cluster, chosen.report)))
        return
    head = False
    for kind in chosen.kind:
        for count in chosen.samples:
            with tempfile.TemporaryDirectory() as folder:
                path = make(Path(folder), count, kind, chosen.method)
                for workers in chosen.workers:
                    call = [sys.executable, __file__, "--one", str(path), str(workers)]
                    call += ["--cluster"] * chosen.cluster + ["--report"] * chosen.report
                    done = subprocess.run(call, capture_output=True, text=True, env=dict(os.environ))
                    if done.returncode:
                        sys.exit(done.stderr)
                    row = json.loads(done.stdout.strip().splitlines()[-1])
                    if not head:
                        print("kind     workers  " + "  ".join(row))
                        head = True
                    cells = "  ".join(f"{value:>{len(name)}.4g}" for name, value in row.items())
                    print(f"{kind:8s} {workers:7d}  {cells}", flush=True)
                    subprocess.run(["rm", "-rf", str(path.parent / "results")], check=True)


if __name__ == "__main__":
    main()
