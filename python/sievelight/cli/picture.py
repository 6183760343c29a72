# SPDX-License-Identifier: GPL-3.0-or-later
"""Small pictures in the terminal: a frame as half blocks in colour (or shades without colour), curves as braille dots."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from rich.text import Text

SHADES = " .:-=+*#%@"
# Dots of a braille cell, (row, column) -> bit: Unicode 15, block 2800.
BRAILLE = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
# Ends and middle of Matplotlib's cividis, which rises in lightness for every eye.
LOW, MIDDLE, HIGH = (0, 34, 78), (124, 123, 120), (254, 232, 56)
MASKED_COLOR, MASKED_SHADE = (200, 82, 0), "/"


def _blocks(values: NDArray[Any], masked: NDArray[np.bool_], rows: int, columns: int) -> NDArray[Any]:
    """(rows, columns) largest value of each block, so that a weak ring survives; NaN where half of it is masked."""
    r = np.minimum(np.arange(values.shape[0]) * rows // values.shape[0], rows - 1)
    c = np.minimum(np.arange(values.shape[1]) * columns // values.shape[1], columns - 1)
    out = np.full((rows, columns), -np.inf)
    shown = np.where(masked, -np.inf, values)
    np.maximum.at(out, (r[:, None], c[None, :]), shown)
    share = np.zeros((2, rows, columns))
    np.add.at(share[0], (r[:, None], c[None, :]), masked)
    np.add.at(share[1], (r[:, None], c[None, :]), 1.0)
    return np.where(np.isfinite(out) & (2 * share[0] < share[1]), out, np.nan)


def frame_picture(
    counts: NDArray[Any], masked: NDArray[np.bool_] | None = None, *, width: int = 64, color: bool = True
) -> list[Text]:
    """A frame on a log scale, row 0 at the bottom, as lines of text; all of it is masked: no line."""
    counts = np.asarray(counts, dtype=float)
    hidden = ~np.isfinite(counts) if masked is None else np.asarray(masked, bool) | ~np.isfinite(counts)
    if hidden.all() or min(counts.shape) < 2:
        return []
    columns = min(width, counts.shape[1])
    rows = max(2, 2 * round(columns * counts.shape[0] / counts.shape[1] / 2))  # a half block is about square
    small = _blocks(counts, hidden, rows, columns)[::-1]
    if np.isnan(small).all():
        return []
    top, low = np.nanmax(small), max(0.5, float(np.nanmin(small)))
    level = np.log(np.maximum(small, low) / low) / max(np.log(top / low), 1e-9)
    if color:
        return [_half_blocks(level[k], level[k + 1]) for k in range(0, rows, 2)]
    plain = np.where(np.isnan(level[::2]), -1, np.clip(level[::2] * len(SHADES), 0, len(SHADES) - 1)).astype(int)
    return [Text("".join(MASKED_SHADE if v < 0 else SHADES[v] for v in row)) for row in plain]


def _half_blocks(upper: NDArray[Any], lower: NDArray[Any]) -> Text:
    line = Text()
    for a, b in zip(upper, lower, strict=True):
        line.append("▀", style=f"{_rgb(a)} on {_rgb(b)}")
    return line


def _rgb(level: float) -> str:
    if np.isnan(level):
        mixed = np.array(MASKED_COLOR)
    elif level < 0.5:
        mixed = np.array(LOW) + (np.array(MIDDLE) - LOW) * 2 * level
    else:
        mixed = np.array(MIDDLE) + (np.array(HIGH) - MIDDLE) * (2 * level - 1)
    return "#{:02x}{:02x}{:02x}".format(*(int(v) for v in mixed))


def curve_picture(x: Any, y: Any, *, width: int = 64, height: int = 14, log_x: bool = True) -> list[Text]:
    """Points on log axes as braille dots, with the ends of both axes; without a positive point: no line."""
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    good = np.isfinite(x) & np.isfinite(y) & (y > 0) & ((x > 0) | (not log_x))
    if not good.any():
        return []
    across = np.log(x[good]) if log_x else x[good]
    up = np.log(y[good])
    dots = np.zeros((4 * height, 2 * width), bool)
    column = np.round((across - across.min()) / max(np.ptp(across), 1e-12) * (2 * width - 1)).astype(int)
    row = np.round((up.max() - up) / max(np.ptp(up), 1e-12) * (4 * height - 1)).astype(int)
    dots[row, column] = True
    left = [f"{y[good].max():9.3g} ", *[" " * 10] * (height - 2), f"{y[good].min():9.3g} "]
    lines = []
    for k in range(height):
        cells = (
            chr(0x2800 + sum(BRAILLE[i][j] for i in range(4) for j in range(2) if dots[4 * k + i, 2 * c + j]))
            for c in range(width)
        )
        lines.append(Text(left[k] + "".join(cells)))
    ends = f"{x[good].min():.3g}", f"{x[good].max():.3g}"
    lines.append(Text(" " * 10 + ends[0] + " " * max(1, width - len(ends[0]) - len(ends[1])) + ends[1]))
    return lines
