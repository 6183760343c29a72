# SPDX-License-Identifier: GPL-3.0-or-later
"""Many compact frames (600 x 500) in one study, or one long stack: memory, open files and cost along the way.

    python tests/bench/load.py [--frames 10000] [--stack 5000] [--each 5000] [--workers 2] [--folder DIR]

--frames: so many samples, a file each. --stack: one sample of so many exposures in one file. --each: the same file, every
exposure a measurement of its own (`frames = each`). A line for every tenth of a run: seconds a sample in that tenth,
memory and open files of the study's process, memory of its largest worker; at the end the comparison and tables, and the
peak. Frames are spheres (form factor: Rayleigh 1911) with counting noise over a shared background; forty are drawn and each
file differs from the others in one count, so that making them does not take longer than reducing them.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path

import h5py
import numpy as np

ROWS, COLUMNS, CENTER, DRAWN = 500, 600, (40.0, 250.0), 40


def scale_bench():
    """The bench beside this one, for its study and its spheres."""
    spec = importlib.util.spec_from_file_location("study_scale", Path(__file__).resolve().parent / "study_scale.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def drawn(scale) -> tuple[list[np.ndarray], np.ndarray]:
    """Some frames with counting noise, and one of the background."""
    rng = np.random.default_rng(7)
    column, row = np.meshgrid(np.arange(COLUMNS), np.arange(ROWS))
    r_mm = np.hypot(column - CENTER[0], row - CENTER[1]) * scale.PIXEL_MM
    angle = np.arctan(r_mm / scale.DISTANCE_MM)
    q = np.maximum(4 * np.pi / scale.WAVELENGTH_NM * np.sin(angle / 2), 1e-3)
    fine = np.geomspace(1e-3, q.max(), 4000)
    solid = np.cos(angle) ** 3

    def one(k):
        shape = scale.spheres(fine, 9.0 + 0.5 * (k % 2) + 0.05 * rng.standard_normal())
        return rng.poisson((20.0 + 3000.0 * np.interp(q, fine, shape)) * solid).astype("i4")

    return [one(k) for k in range(DRAWN)], rng.poisson(20.0 * solid).astype("i4")


def write(path: Path, frames, exposures: int) -> None:
    """Write a NeXus file of exposures that `frames` yields."""
    with h5py.File(path, "w") as file:
        detector = file.create_group("entry/instrument/detector")
        data = detector.create_dataset(
            "data", (exposures, ROWS, COLUMNS), "i4", chunks=(1, ROWS, COLUMNS), compression="gzip", compression_opts=1
        )
        for i, frame in enumerate(frames):
            data[i] = frame
        detector["count_time"] = 30.0
        detector["count_time"].attrs["units"] = "s"
        for group, kind in (("entry", "NXentry"), ("entry/instrument", "NXinstrument"), (detector.name, "NXdetector")):
            file[group].attrs["NX_class"] = kind


def numbered(frames: list[np.ndarray], i: int) -> np.ndarray:
    """The i-th frame, like no other: its number stands in a corner that is not used."""
    frame = frames[i % DRAWN].copy()
    frame[0, COLUMNS - 2 :] = divmod(i, 1000)
    return frame


def make(folder: Path, kind: str, count: int) -> Path:
    """Write the study of one kind."""
    scale = scale_bench()
    frames, background = drawn(scale)
    write(folder / "cell.h5", [background], 1)
    table = ["name,role,batch,file,frames,background,transmission,thickness_mm", "cell,background,,cell.h5,,,1.0,"]
    if kind == "frames":
        for i in range(count):
            write(folder / f"s{i:05d}.h5", [numbered(frames, i)], 1)
            table.append(f"s{i:05d},sample,{'one' if i % 2 else 'two'},s{i:05d}.h5,,cell,0.9,1.0")
    else:
        write(folder / "stack.h5", (numbered(frames[::2] * 2, i) for i in range(count)), count)  # of one batch
        table.append(f"stack,sample,one,stack.h5,{'each' if kind == 'each' else ''},cell,0.9,1.0")
    (folder / "measurements.csv").write_text("\n".join(table) + "\n")
    text = scale.STUDY.replace("METHOD", "evidence").replace(str(list(scale.CENTER)), str(list(CENTER)))
    (folder / "study.toml").write_text(text)
    return folder / "study.toml"


def memory_mib(pid: int | str = "self") -> float:
    """Memory that a process has now."""
    try:
        with open(f"/proc/{pid}/statm") as file:
            return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20
    except OSError:
        return 0.0


def children() -> list[int]:
    """Processes that this one has started."""
    with open(f"/proc/self/task/{os.getpid()}/children") as file:
        return [int(pid) for pid in file.read().split()]


def measure(path: Path, workers: int) -> None:
    """Run the study and print a line for each tenth of it."""
    from sievelight.study import LocalCrew, run_study

    begun = last = time.perf_counter()
    marks = [0]
    first: list[float] = []
    print("  done  ms a sample   own MiB  open files  largest worker MiB")

    def progress(done: int, total: int, what: str) -> None:
        nonlocal last
        now = time.perf_counter()
        if what.endswith("measurements"):
            print(f"(start: {now - begun:.1f} s, {memory_mib():.0f} MiB)")
            last = now
            first.append(now)
        finished, tasks = done - 1, total - 3
        if first and 0 < finished <= tasks and finished >= marks[-1] + max(1, tasks // 10):
            per = 1e3 * (now - last) / (finished - marks[-1])
            files = len(os.listdir("/proc/self/fd"))
            worker = max([memory_mib(pid) for pid in children()], default=0.0)
            print(f"{finished:6d}  {per:11.1f}  {memory_mib():8.0f}  {files:10d}  {worker:18.0f}", flush=True)
            marks.append(finished)
            last = now

    result = run_study(path, executor=LocalCrew(workers) if workers else None, progress=progress)
    end = time.perf_counter()
    assert not result.failed, result.findings[:3]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    worker = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(
        f"{len(result.samples)} samples in {end - begun:.0f} s, peak {peak:.0f} MiB, largest worker {worker:.0f} MiB",
        flush=True,
    )


def main() -> None:
    """Make and measure what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for kind in ("frames", "stack", "each"):
        parser.add_argument(f"--{kind}", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2, help="0: this process alone")
    parser.add_argument("--folder", help="where the frames are made (1.5 GB for 10,000); default: the temporary folder")
    parser.add_argument("--run", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.run:
        measure(Path(chosen.run), chosen.workers)
        return
    kinds = {kind: getattr(chosen, kind) for kind in ("frames", "stack", "each") if getattr(chosen, kind)}
    for kind, count in (kinds or {"frames": 10000, "stack": 5000, "each": 5000}).items():
        folder = Path(tempfile.mkdtemp(dir=chosen.folder))
        try:
            print(f"{kind}: {count}", flush=True)
            path = make(folder, kind, count)
            # In a process of its own: what making them took is not the study's.
            call = [sys.executable, __file__, "--run", str(path), "--workers", str(chosen.workers)]
            if os.spawnv(os.P_WAIT, sys.executable, call):
                sys.exit(f"{kind} failed")
        finally:
            shutil.rmtree(folder)


if __name__ == "__main__":
    main()
