# SPDX-License-Identifier: GPL-3.0-or-later
"""A detector frame in a live figure: counts on a log scale, what is masked, a keyboard's cursor."""

from __future__ import annotations

from os import PathLike
from typing import Any

import numpy as np
from matplotlib.colors import LogNorm
from numpy.typing import NDArray

from sievelight._core import FrameFile
from sievelight.errors import input_error
from sievelight.frames import open_frames
from sievelight.plot import styled
from sievelight.widgets.live_figure import LiveFigure

MASK_COLOR, MASK_GROUND = (0xC8, 0x52, 0x00), (0xF7, 0xF7, 0xF7)  # as in plot_frame: in no colour of the map
PIXELS_SHOWN = 800  # along the longer side; the picture on the screen has no more


def frame_and_mask(frame: Any, masked: Any) -> tuple[NDArray[np.float64], NDArray[np.bool_], Any]:
    """Counts (rows, columns), pixels that may not be used, and the metadata where there are any.

    frame : counts, a Frame, a FrameFile or the path of one; exposures are summed.  masked : pixels besides those that
    the frame marks itself.
    Raises InputError for what is no frame, has no finite count, or does not fit the mask; DataError for an unreadable file.
    """
    if isinstance(frame, (str, PathLike)):
        frame = open_frames(frame)
    if isinstance(frame, FrameFile):
        frame = frame.read_sum([])
    counts = np.asarray(getattr(frame, "counts", frame), dtype=float)
    if counts.ndim != 2 or counts.size == 0:
        raise input_error(
            f"a frame of shape {counts.shape} was given.", "Give counts of (rows, columns); a strip has one row."
        )
    if not np.isfinite(counts).any():
        raise input_error(
            "no pixel of the frame has a finite count.", "Check how the frame was made: all are NaN or infinite."
        )
    unusable = ~np.isfinite(counts)
    for given in (getattr(frame, "masked", None), masked):
        if given is None:
            continue
        if np.shape(given) != counts.shape:
            raise input_error(
                f"a mask of shape {np.shape(given)} for a frame of {counts.shape}.",
                "Give a mask of the frame's own shape, rows first.",
            )
        unusable |= np.asarray(given, dtype=bool)
    return counts, unusable, getattr(frame, "metadata", None)


class FrameView:
    """The picture that the mask editor and the beam picker draw on."""

    @styled()
    def __init__(self, counts: NDArray[np.float64], *, unusable: NDArray[np.bool_], name: str) -> None:
        self.counts = counts
        self.unusable = unusable
        rows, columns = counts.shape
        strip = 1 in counts.shape
        self.live = LiveFigure(
            width_in=6.4, height_in=2.2 if strip else _height(rows, columns), toolbar=True, name=name
        )
        ax = self.ax = self.live.axes()
        seen = counts[~unusable] if (~unusable).any() else counts[np.isfinite(counts)]
        top = max(float(np.percentile(seen, 99.95)), 2.0)
        low = min(max(0.8, 0.7 * float(np.percentile(seen, 0.5))), 0.5 * top)
        self._shown = np.where(np.isfinite(counts), np.maximum(counts, low), low).astype(np.float32)
        self._masked = unusable
        how: Any = {"origin": "lower", "aspect": "auto" if strip else "equal", "interpolation": "nearest"}
        extent = (-0.5, columns - 0.5, -0.5, rows - 0.5)
        self._image = ax.imshow(self._shown[:1, :1], norm=LogNorm(low, top), cmap="cividis", extent=extent, **how)
        self._cover = ax.imshow(np.zeros((1, 1, 4), dtype=np.uint8), extent=extent, zorder=2, **how)
        self.live.figure.colorbar(self._image, ax=ax, label="counts", shrink=0.85)
        ax.set(xlabel="column / px", ylabel="row / px", xlim=extent[:2], ylim=extent[2:])
        (self.cursor,) = ax.plot([], [], "+", color="white", ms=14, mew=1.2, zorder=6, visible=False)
        self.live.add_moving(self.cursor)
        self._fill()
        for name in ("xlim_changed", "ylim_changed"):
            ax.callbacks.connect(name, lambda _: self._fill())

    def show_mask(self, masked: NDArray[np.bool_]) -> None:
        """Paint a mask over the frame."""
        self._masked = masked
        self._fill()
        self.live.redraw()

    def _fill(self) -> None:
        """Give the picture what it can show of the part in view: blocks by their brightest pixel, single pixels up close."""
        rows, columns = self.counts.shape
        (left, right), (bottom, top) = (sorted(pair) for pair in (self.ax.get_xlim(), self.ax.get_ylim()))
        c0, c1 = max(int(left), 0), min(int(right) + 2, columns)
        r0, r1 = max(int(bottom), 0), min(int(top) + 2, rows)
        if c0 >= c1 or r0 >= r1:
            return
        k = max(1, -(-max(c1 - c0, r1 - r0) // PIXELS_SHOWN))
        extent = (c0 - 0.5, c0 - 0.5 + k * -(-(c1 - c0) // k), r0 - 0.5, r0 - 0.5 + k * -(-(r1 - r0) // k))
        self._image.set_data(_blocks(self._shown[r0:r1, c0:c1], k))
        self._cover.set_data(_painted(_blocks(self._masked[r0:r1, c0:c1], k)))
        self._image.set_extent(extent)
        self._cover.set_extent(extent)

    def inside(self, event: Any) -> tuple[float, float] | None:
        """The place (column, row) of an event on the frame, else None."""
        if event.inaxes is not self.ax or event.xdata is None:
            return None
        return float(event.xdata), float(event.ydata)

    def clamp(self, x: float, y: float) -> tuple[float, float]:
        """The nearest place on the frame."""
        rows, columns = self.counts.shape
        return min(max(x, 0.0), columns - 1.0), min(max(y, 0.0), rows - 1.0)

    def words_at(self, x: float, y: float) -> str:
        """What a pixel holds."""
        column, row = (round(v) for v in self.clamp(x, y))
        count = self.counts[row, column]
        return f"column {column}, row {row}: {count:g} counts" + (", not usable" if self.unusable[row, column] else "")


def _blocks(values: NDArray[Any], k: int) -> NDArray[Any]:
    """The largest value of every block of k × k pixels; blocks at the edges may be smaller."""
    if k == 1:
        return values
    rows, columns = np.arange(0, values.shape[0], k), np.arange(0, values.shape[1], k)
    return np.maximum.reduceat(np.maximum.reduceat(values, rows, axis=0), columns, axis=1)


def _painted(masked: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """(rows, columns, 4) white with vermilion stripes where masked, transparent elsewhere."""
    rows, columns = masked.shape
    width = max(1, max(rows, columns) // 100)
    stripes = (np.add.outer(np.arange(rows), np.arange(columns)) // width) % 3 == 0
    painted = np.zeros((rows, columns, 4), dtype=np.uint8)
    painted[..., :3] = np.where(stripes[..., None], np.array(MASK_COLOR, np.uint8), np.array(MASK_GROUND, np.uint8))
    painted[..., 3] = np.where(masked, 255, 0)
    return painted


def _height(rows: int, columns: int) -> float:
    """Inches, so that the frame fills the picture beside its colour bar."""
    return float(np.clip(4.6 * rows / columns + 0.5, 2.2, 6.4))


ARROWS = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


def arrow(key: str | None) -> tuple[int, int] | None:
    """How far an arrow key goes in columns and rows; ten times as far with shift. None for other keys."""
    if key is None:
        return None
    far = 10 if key.startswith("shift+") else 1
    step = ARROWS.get(key.removeprefix("shift+"))
    return None if step is None else (far * step[0], far * step[1])
