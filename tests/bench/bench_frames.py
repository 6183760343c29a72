# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows about frames: averaging from memory and from stacks of every kind, and the peers written with NumPy and SciPy."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import h5py
import hdf5plugin
import numpy as np
from bench_timing import Row, Target, interleave, ratio, require, row
from numpy.typing import NDArray
from scipy import sparse

import sievelight as sl
from sievelight import frames, reduce

DEAD_TIME_S, EXPOSURE_S = 1.25e-7, 10.0


@dataclass
class Scene:
    """A detector, its bins and some exposures of it, 32-bit counts of a sample whose scattering falls with q."""

    rows: int = 2250
    columns: int = 2000
    bins: int = 1000
    frames: int = 16  # beyond the last cache together: a frame comes from memory

    def __post_init__(self) -> None:
        self.geometry = sl.DetectorGeometry(
            wavelength_nm=0.154187,
            distance_mm=1000.0,
            beam_center_x_px=0.44 * self.columns,
            beam_center_y_px=0.454 * self.rows,
            pixel_size_x_mm=0.1,
            pixel_size_y_mm=0.1,
        )
        self.map = sl.pixel_map(self.geometry, rows=self.rows, columns=self.columns)
        q = self.map.q_per_nm
        self.edges = np.linspace(q[q > 0].min(), q.max(), self.bins + 1)
        rng = np.random.default_rng(7)
        scale = 0.15 * np.quantile(q, 0.5) / 1.5
        mean = 3000.0 / (1.0 + (q / scale) ** 3) + 2.0
        self.exposures = [rng.poisson(mean).astype(np.uint32) for _ in range(min(4, self.frames))]
        self.exposures += [
            self.exposures[k % len(self.exposures)].copy() for k in range(len(self.exposures), self.frames)
        ]
        self.averager = reduce.Averager(self.map, edges_per_nm=self.edges)
        self.dead = reduce.Averager(self.map, edges_per_nm=self.edges, dead_time_s=DEAD_TIME_S)
        index = self.averager.table.index
        self.index = index.ravel().astype(np.int64) + 1  # 0: no bin
        solid, chi = self.map.solid_angle_sr, self.map.azimuth_rad
        sin2 = 1.0 - self.map.cos_two_theta**2
        polarisation = 1.0 - sin2 * 0.5 * (np.cos(chi) ** 2 + np.sin(chi) ** 2)
        self.weight = (solid * polarisation).ravel()
        self.turn = 0

    def next(self) -> NDArray[np.uint32]:
        """Another exposure than the last one."""
        self.turn = (self.turn + 1) % len(self.exposures)
        return self.exposures[self.turn]


def bincount_average(scene: Scene, counts: NDArray[np.uint32]) -> tuple[NDArray, NDArray]:
    """The peer: intensity and uncertainty of the bins by two weighted histograms."""
    n = np.bincount(scene.index, weights=counts.ravel(), minlength=scene.bins + 1)[1:]
    h = EXPOSURE_S * np.bincount(scene.index, weights=scene.weight, minlength=scene.bins + 1)[1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        return n / h, np.sqrt(n) / h


class SparseAverage:
    """The other peer: a sparse matrix of pixels and bins, made once."""

    def __init__(self, scene: Scene) -> None:
        used = np.flatnonzero(scene.index)
        shape = (scene.bins, scene.index.size)
        self.scene = scene
        self.sums = sparse.csr_matrix((np.ones(used.size), (scene.index[used] - 1, used)), shape=shape)

    def __call__(self, counts: NDArray[np.uint32]) -> tuple[NDArray, NDArray]:
        """Counts and normalisations by a product each."""
        n = self.sums @ counts.ravel().astype(float)
        h = EXPOSURE_S * (self.sums @ self.scene.weight)
        with np.errstate(invalid="ignore", divide="ignore"):
            return n / h, np.sqrt(n) / h


def ours(scene: Scene, counts: NDArray[np.uint32], **options: object) -> sl.reduce.Averaged:
    """Our way from memory, without the check of the scatter, which the peers do not make."""
    return scene.averager.average_counts(counts, exposure_s=EXPOSURE_S, check_scatter=False, **options)


def agree(averaged: object, peer: tuple[NDArray, NDArray], what: str) -> None:
    """Intensity to rounding; uncertainty too where no few-counts rule acts."""
    intensity, u = (x[averaged.bin] for x in peer)
    require(np.allclose(averaged.curve.intensity, intensity, rtol=1e-10), f"intensity of {what}")
    many = averaged.counts >= 10
    require(np.allclose(averaged.curve.private_u[many], u[many], rtol=1e-10), f"uncertainty of {what}")


class TwoReaders:
    """The limit: every number of a frame is looked at once, each thread half of them."""

    def __init__(self) -> None:
        self.pool = ThreadPoolExecutor(2)

    def __call__(self, counts: NDArray[np.uint32]) -> list[int]:
        """The largest number of each half."""
        flat = counts.ravel()
        half = flat.size // 2
        return list(self.pool.map(np.max, (flat[:half], flat[half:])))


def dead_time_peer(scene: Scene, counts: NDArray[np.uint32]) -> tuple[NDArray, NDArray]:
    """True counts of every pixel, and their variance, by NumPy."""
    load = counts.ravel() * (DEAD_TIME_S / EXPOSURE_S)
    true = counts.ravel() / (1.0 - load)
    n = np.bincount(scene.index, weights=true, minlength=scene.bins + 1)[1:]
    v = np.bincount(scene.index, weights=true / (1.0 - load), minlength=scene.bins + 1)[1:]
    h = EXPOSURE_S * np.bincount(scene.index, weights=scene.weight, minlength=scene.bins + 1)[1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        return n / h, np.sqrt(v) / h


def memory_rows(scene: Scene, repeats: int) -> list[Row]:
    """Averaging a frame in memory: plain, with dead time, with the check of the scatter."""
    sparse_average, read = SparseAverage(scene), TwoReaders()

    def dead(counts: NDArray[np.uint32], check_scatter: bool = False) -> object:
        return scene.dead.average_counts(counts, exposure_s=EXPOSURE_S, check_scatter=check_scatter)

    for counts in scene.exposures[:2]:
        agree(ours(scene, counts), bincount_average(scene, counts), "a frame in memory, against bincount")
        agree(ours(scene, counts), sparse_average(counts), "a frame in memory, against the sparse product")
        agree(dead(counts), dead_time_peer(scene, counts), "a frame with dead time")
        require(max(read(counts)) == counts.max(), "reading a frame")
    times = interleave(
        {
            "ours": lambda: ours(scene, scene.next()),
            "ours, dead time": lambda: dead(scene.next()),
            "ours, scatter checked": lambda: scene.averager.average_counts(scene.next(), exposure_s=EXPOSURE_S),
            "NumPy bincount pair": lambda: bincount_average(scene, scene.next()),
            "SciPy sparse pair": lambda: sparse_average(scene.next()),
            "NumPy with dead time": lambda: dead_time_peer(scene, scene.next()),
            "reading once, two threads": lambda: read(scene.next()),
        },
        repeats,
    )
    shape = f"{scene.rows} × {scene.columns}, {scene.bins} bins"
    plain = Row(f"average a frame in memory, {shape}", 0.0)
    plain = row(
        plain.work,
        {k: times[k] for k in ("ours", "NumPy bincount pair", "SciPy sparse pair", "reading once, two threads")},
    )
    against_read = ratio(times, "ours", "reading once, two threads")
    plain.targets = [
        Target("× bincount", ratio(times, "NumPy bincount pair", "ours"), 25.0, True),
        Target("of the read", against_read, 2.0, False),
        Target("of the read", against_read, 1.3, False, must=False),
    ]
    dead_row = row(
        "the same, dead time per pixel",
        {"ours": times["ours, dead time"], "NumPy": times["NumPy with dead time"], "without dead time": times["ours"]},
    )
    against_plain = ratio(times, "ours, dead time", "ours")
    dead_row.targets = [
        Target("of the row above", against_plain, 2.0, False),
        Target("of the row above", against_plain, 1.3, False, must=False),
    ]
    scatter = row(
        "the same, scatter of the pixels checked",
        {"ours": times["ours, scatter checked"]},
        note="the default; no target",
    )
    return [plain, dead_row, scatter]


def area_row(scene: Scene, repeats: int) -> Row:
    """Area-weighted binning against the pixel centres."""
    from sievelight import _core

    averager = _core.AreaAverager(scene.geometry, None, scene.rows, scene.columns, scene.edges, _core.AverageOptions())
    made = [frames.Frame(counts.astype(float), exposure_s=EXPOSURE_S) for counts in scene.exposures[:2]]
    options = _core.ExposureOptions(name="area", check_scatter=False)
    for counts, frame in zip(scene.exposures, made):
        area, centre = averager.average([frame], options), ours(scene, counts)
        # A smooth curve: both bins hold the same counts to a few per cent, and all counts are shared out.
        both = np.isin(area.bin, centre.bin)
        close = np.abs(
            area.intensity[both] / np.interp(area.q_per_nm[both], centre.curve.q_per_nm, centre.curve.intensity) - 1
        )
        require(np.median(close) < 0.02, "area-weighted bins against pixel centres")
    times = interleave(
        {
            "ours": lambda: averager.average([made[scene.turn % 2]], options),
            "pixel centres": lambda: scene.averager.average(made[(scene.turn + 1) % 2], check_scatter=False),
        },
        repeats,
    )
    out = row("area-weighted binning, per frame", times)
    share = ratio(times, "ours", "pixel centres")
    out.targets = [
        Target("of the pixel centres", share, 3.0, False),
        Target("of the pixel centres", share, 2.0, False, must=False),
    ]
    return out


KINDS = {
    "plain": {},
    "bitshuffle-LZ4": dict(chunks=True, **hdf5plugin.Bitshuffle(cname="lz4")),
    "gzip": dict(chunks=True, compression="gzip", compression_opts=4, shuffle=True),
}


def write_stack(path: Path, scene: Scene, count: int, kind: str) -> None:
    """A stack of `count` exposures; what is compressed, is compressed once an exposure and copied."""
    storage = dict(KINDS[kind])
    if storage.pop("chunks", False):
        storage["chunks"] = (1, scene.rows, scene.columns)
    some = scene.exposures[:4]
    with h5py.File(path, "w") as file:
        detector = file.create_group("entry/instrument/detector")
        data = detector.create_dataset("data", (count, scene.rows, scene.columns), "u4", **storage)
        for k in range(count):
            if k < len(some) or data.chunks is None:
                data[k] = some[k % len(some)]
            else:
                skipped, raw = data.id.read_direct_chunk((k % len(some), 0, 0))
                data.id.write_direct_chunk((k, 0, 0), raw, skipped)
        detector["count_time"] = EXPOSURE_S
        detector["count_time"].attrs["units"] = "s"
        for group, name in (("entry", "NXentry"), ("entry/instrument", "NXinstrument"), (detector.name, "NXdetector")):
            file[group].attrs["NX_class"] = name


def read_bytes(path: Path, buffer: memoryview) -> None:
    """The whole file through one buffer, as fast as Python reads."""
    with open(path, "rb", buffering=0) as file:
        while file.readinto(buffer):
            pass


def stack_row(scene: Scene, folder: Path, kind: str, count: int, repeats: int) -> Row:
    """Averaging every exposure of a stack."""
    path = folder / f"{kind}.h5"
    write_stack(path, scene, count, kind)
    file = frames.open_frames(path)

    def peer() -> list[tuple[NDArray, NDArray]]:
        with h5py.File(path) as opened:
            data = opened["entry/instrument/detector/data"]
            return [bincount_average(scene, data[k]) for k in range(count)]

    outs = [np.empty((scene.rows, scene.columns), np.uint32) for _ in range(2)]
    pool = ThreadPoolExecutor(2)

    def decode(which: int) -> None:
        for k in range(which, count, 2):
            file.read_numbers(k, outs[which])

    def decode_all() -> None:
        list(pool.map(decode, range(2)))

    def each() -> list:
        return scene.averager.average_each(file, check_scatter=False)

    got, expected = each(), peer()
    require(len(got) == count, "number of exposures of a stack")
    for averaged, other in zip(got, expected):
        agree(averaged, other, f"a stack, {kind}")
    require(
        np.array_equal(file.read_numbers(1), scene.exposures[1 % min(4, len(scene.exposures))]), "numbers as stored"
    )
    ways = {"ours": each, "h5py and bincount": peer}
    if kind == "plain":
        buffer = memoryview(bytearray(scene.rows * scene.columns * 4))
        ways["reading the file's bytes, one thread"] = lambda: read_bytes(path, buffer)
        ways["the same, two threads"] = decode_all
    else:
        ways["decoding alone, two threads"] = decode_all
    times = interleave(ways, repeats)
    out = row(f"average a stack of {count} frames, {kind}, per frame", times, per=count)
    path.unlink()
    faster = ratio(times, "h5py and bincount", "ours")
    if kind == "plain":
        share = ratio(times, "ours", "reading the file's bytes, one thread")
        both = ratio(times, "ours", "the same, two threads")
        out.targets = [
            Target("of reading", share, 1.3, False),
            Target("of reading", share, 1.1, False, must=False),
            Target("of reading on two threads", both, 1.3, False, must=False),
        ]
    elif kind == "gzip":
        out.targets = [Target("× h5py", faster, 2.0, True)]
    else:
        share = ratio(times, "ours", "decoding alone, two threads")
        out.targets = [
            Target("× h5py", faster, 5.0, True),
            Target("of decoding alone", share, 1.15, False),
            Target("of decoding alone", share, 1.0, False, must=False),
        ]
    return out
