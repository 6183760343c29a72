# SPDX-License-Identifier: GPL-3.0-or-later
"""How cost grows with pixels, bins, frames, threads, sizes and samples."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median

import bench_frames
import bench_inversion
import numpy as np
from bench_frames import EXPOSURE_S, Scene
from bench_timing import interleave

import sievelight as sl
from sievelight import distribution, frames, reduce

Curves = dict[str, dict[str, list[float]]]


def _time(call: Callable[[], object], repeats: int) -> float:
    return median(interleave({"it": call}, repeats)["it"])


def _next(scene: Scene, averager: reduce.Averager) -> object:
    return averager.average_counts(scene.next(), exposure_s=EXPOSURE_S, check_scatter=False)


def _tables(scene: Scene) -> reduce.Averager:
    made = sl.pixel_map(scene.geometry, rows=scene.rows, columns=scene.columns)
    return reduce.Averager(made, edges_per_nm=scene.edges)


def growth(short: bool, repeats: int) -> Curves:
    """x and seconds of every curve."""
    out: Curves = {}
    sides = (200, 400) if short else (500, 1000, 1500, 2000, 3000)
    out["pixels: average a frame"] = {"x": [], "s": []}
    out["pixels: map and tables"] = {"x": [], "s": []}
    for side in sides:
        scene = Scene(side, side, 500, 2)
        out["pixels: average a frame"]["x"].append(side * side)
        out["pixels: average a frame"]["s"].append(_time(partial(_next, scene, scene.averager), repeats))
        out["pixels: map and tables"]["x"].append(side * side)
        out["pixels: map and tables"]["s"].append(_time(partial(_tables, scene), max(2, repeats // 4)))
    side = 400 if short else 2000
    scene = Scene(side, side, 1000, 4)
    out["bins: average a frame"] = {"x": [], "s": []}
    for bins in (50, 400) if short else (50, 200, 1000, 4000, 16000, 64000):
        edges = np.linspace(scene.edges[0], scene.edges[-1], bins + 1)
        averager = reduce.Averager(scene.map, edges_per_nm=edges)
        out["bins: average a frame"]["x"].append(bins)
        out["bins: average a frame"]["s"].append(_time(partial(_next, scene, averager), repeats))
    out["threads: average a frame"] = {"x": [], "s": []}
    kept = os.environ.get("SIEVELIGHT_THREADS")
    for threads in range(1, 2 * (os.cpu_count() or 1) + 1):
        os.environ["SIEVELIGHT_THREADS"] = str(threads)
        out["threads: average a frame"]["x"].append(threads)
        out["threads: average a frame"]["s"].append(_time(partial(_next, scene, scene.averager), repeats))
    if kept is None:
        del os.environ["SIEVELIGHT_THREADS"]
    else:
        os.environ["SIEVELIGHT_THREADS"] = kept
    out["frames: average a bitshuffle-LZ4 stack"] = {"x": [], "s": []}
    with tempfile.TemporaryDirectory() as folder:
        for count in (2, 4) if short else (10, 40, 160):
            path = Path(folder) / f"{count}.h5"
            bench_frames.write_stack(path, scene, count, "bitshuffle-LZ4")
            file = frames.open_frames(path)
            out["frames: average a bitshuffle-LZ4 stack"]["x"].append(count)
            out["frames: average a bitshuffle-LZ4 stack"]["s"].append(
                _time(partial(scene.averager.average_each, file, check_scatter=False), max(2, repeats // 4))
            )
    c = bench_inversion.curve()
    out["sizes: preview inversion"] = {"x": [], "s": []}
    for sizes in (60, 120) if short else (60, 90, 120, 180, 240):
        kernel = distribution.make_kernel(c, diameter_nm=bench_inversion.window_for(c, sizes))
        out["sizes: preview inversion"]["x"].append(float(np.asarray(kernel.grid.diameter_nm).size))
        out["sizes: preview inversion"]["s"].append(
            _time(partial(sl.invert, c, kernel=kernel, method="evidence", look_for_order=False), repeats)
        )
    return out


def exponent(curve: dict[str, list[float]]) -> float:
    """Slope of ln(time) against ln(x) over the upper half of the points: 1 is linear."""
    x, s = np.log(curve["x"]), np.log(curve["s"])
    half = max(0, min(len(x) - 2, len(x) // 2 - 1))
    return float(np.polyfit(x[half:], s[half:], 1)[0])


def picture(curves: Curves, path: Path) -> None:
    """Every curve in a panel of its own, with a straight line of slope 1 through its last point."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    columns = 3
    rows = -(-len(curves) // columns)
    figure, axes = plt.subplots(rows, columns, figsize=(4.0 * columns, 3.1 * rows), squeeze=False, layout="constrained")
    for ax, (name, curve) in zip(axes.flat, curves.items()):
        x, ms = np.array(curve["x"]), 1e3 * np.array(curve["s"])
        ax.plot(x, ms, "o-", color="C0")
        if not name.startswith("threads"):
            ax.plot(x, ms[-1] * x / x[-1], color="0.6", lw=1, ls="--", label="in proportion")
            ax.set_xscale("log")
            ax.set_yscale("log")
            ax.legend(frameon=False, fontsize=8)
        else:
            ax.set_ylim(0, None)
        ax.set_title(f"{name}" if name.startswith("threads") else f"{name} (slope {exponent(curve):.2f})", fontsize=9)
        ax.set_xlabel(name.split(":")[0])
        ax.set_ylabel("time / ms")
    for ax in list(axes.flat)[len(curves) :]:
        ax.set_visible(False)
    figure.savefig(path, dpi=130)
    plt.close(figure)
