# SPDX-License-Identifier: GPL-3.0-or-later
"""Rectangles that cover just the pixels of a mask, so that any mask can be written as text."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Box = tuple[tuple[int, int], tuple[int, int]]  # columns (first, last), rows (first, last)


def cover(masked: NDArray[np.bool_]) -> list[Box]:
    """Rectangles, edges included, whose union is the mask (rows, columns).

    Runs of masked pixels in a row; a run that the next row repeats grows by that row. Not the fewest rectangles, but few
    for shapes drawn by hand.
    """
    boxes: list[Box] = []
    growing: dict[tuple[int, int], int] = {}  # run -> the row it began in
    for row in range(masked.shape[0] + 1):
        runs = _runs(masked[row]) if row < masked.shape[0] else []
        here = set(runs)
        boxes += [(run, (first, row - 1)) for run, first in growing.items() if run not in here]
        growing = {run: growing.get(run, row) for run in runs}
    return sorted(boxes, key=lambda box: (box[1], box[0]))


def _runs(row: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last column of each run of masked pixels."""
    if not row.any():
        return []
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), (edges[1::2] - 1).tolist()))
