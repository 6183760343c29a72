# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows about what is made once for a geometry: q map and tables, and the calibration of the geometry itself."""

from __future__ import annotations

import numpy as np
from bench_frames import Scene
from bench_timing import Row, Target, interleave, require, row
from numpy.typing import NDArray

import sievelight as sl
from sievelight import reduce


def numpy_q(g: sl.DetectorGeometry, rows: int, columns: int) -> NDArray[np.float64]:
    """q of every pixel of an untilted detector: 4 pi/lambda sin(theta)."""
    x = (np.arange(columns) - g.beam_center_x_px) * g.pixel_size_x_mm
    y = (np.arange(rows) - g.beam_center_y_px) * g.pixel_size_y_mm
    across = np.hypot(x, y[:, None])
    return 4 * np.pi / g.wavelength_nm * np.sin(0.5 * np.arctan2(across, g.distance_mm))


def tables_row(scene: Scene, repeats: int) -> Row:
    """From a geometry to all that a frame needs: maps, bins, corrections, normalisations."""

    def ours() -> reduce.Averager:
        made = sl.pixel_map(scene.geometry, rows=scene.rows, columns=scene.columns)
        return reduce.Averager(made, edges_per_nm=scene.edges)

    def peer() -> tuple[NDArray, NDArray]:
        q = numpy_q(scene.geometry, scene.rows, scene.columns)
        return q, np.digitize(q, scene.edges)

    q, place = peer()
    require(np.allclose(q, scene.map.q_per_nm, rtol=1e-12, atol=1e-12), "q map against NumPy")
    index = ours().table.index
    used = index >= 0
    # A pixel on an edge may fall on either side by rounding.
    require(np.mean(index[used] != place[used] - 1) < 1e-5, "bins against NumPy")
    times = interleave({"ours": ours, "NumPy, q and bins alone": peer}, repeats)
    out = row(f"q map and tables of one geometry, {scene.rows} × {scene.columns}", times)
    out.targets = [
        Target("ms", 1e3 * out.ours, 60.0, False),
        Target("ms", 1e3 * out.ours, 30.0, False, must=False),
    ]
    return out


def calibration_row(rows: int, columns: int, repeats: int) -> Row:
    """Rings of silver behenate (spacing: T. C. Huang et al., J. Appl. Cryst. 26 (1993) 180), nothing known beforehand."""
    truth = sl.DetectorGeometry(
        wavelength_nm=0.154187,
        distance_mm=0.3 * columns,
        beam_center_x_px=0.462 * columns,
        beam_center_y_px=0.531 * rows,
        pixel_size_x_mm=0.1,
        pixel_size_y_mm=0.1,
    )
    q = sl.pixel_map(truth, rows=rows, columns=columns).q_per_nm
    mean = 20.0 + 5.0 / (0.05 + q) ** 2
    width = 0.008
    for order in range(1, 14):
        mean += 900.0 / order * np.exp(-0.5 * ((q - order * 2 * np.pi / 5.8380) / width) ** 2)
    counts = np.random.default_rng(3).poisson(np.minimum(mean, 1e5)).astype(float)

    def ours() -> object:
        return sl.calibrate_rings(counts, wavelength_nm=truth.wavelength_nm, pixel_size_mm=0.1)

    found = ours().geometry
    require(abs(found.distance_mm / truth.distance_mm - 1) < 1e-3, "distance of the calibration")
    require(
        np.hypot(found.beam_center_x_px - truth.beam_center_x_px, found.beam_center_y_px - truth.beam_center_y_px)
        < 0.3,
        "beam centre of the calibration",
    )
    out = row(f"ring calibration, first guess unknown, {rows} × {columns}", interleave({"ours": ours}, repeats))
    out.targets = [Target("s", out.ours, 1.0, False), Target("s", out.ours, 0.3, False, must=False)]
    return out
