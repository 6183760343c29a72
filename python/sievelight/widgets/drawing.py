# SPDX-License-Identifier: GPL-3.0-or-later
"""A mask as it is drawn: strokes that mask or erase, undone and redone, and written as a study's text or as Python.

Nothing here knows of a notebook. A study can only add shapes; a shape into which a later stroke has cut is written as the
rectangles that cover what is left of it, so that the text gives the very same pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import frames
from sievelight.errors import input_error
from sievelight.study.settings import parse_settings
from sievelight.widgets.cover import cover

Mask = NDArray[np.bool_]
Number = int | float


@dataclass(frozen=True)
class Stroke:
    """One shape that masks (or erases), with the numbers that `sievelight.mask_<kind>` takes.

    kind : "rectangle", "circle", "polygon", or "pixels" with `pixels_px`, pairs (column, row).
    """

    kind: str
    numbers: Mapping[str, Any]
    erase: bool = False
    outside: bool = False

    def pixels(self, shape: tuple[int, int]) -> Mask:
        """The pixels (rows, columns) that it touches. Raises InputError for a shape that touches none or leaves none."""
        if self.kind == "pixels":
            touched = np.zeros(shape, dtype=bool)
            columns, rows = np.array(self.numbers["pixels_px"], dtype=int).reshape(-1, 2).T
            if (
                not columns.size
                or columns.min() < 0
                or rows.min() < 0
                or columns.max() >= shape[1]
                or rows.max() >= shape[0]
            ):
                raise input_error(
                    "a pixel lies outside of the frame.", f"Columns end at {shape[1] - 1}, rows at {shape[0] - 1}."
                )
            touched[rows, columns] = True
            return touched
        draw: Callable[..., Mask] = getattr(frames, f"mask_{self.kind}")
        return draw(shape, **self.numbers, outside=self.outside)

    def words(self) -> str:
        """What it is, for the status line."""
        n = self.numbers
        what = {
            "rectangle": lambda: "rectangle, columns {} to {}, rows {} to {}".format(*n["x_px"], *n["y_px"]),
            "circle": lambda: (
                f"circle of radius {n['radius_px']:g} px about column {n['center_px'][0]:g}, row {n['center_px'][1]:g}"
            ),
            "polygon": lambda: f"polygon of {len(n['corners_px'])} corners",
            "pixels": lambda: f"{len(n['pixels_px'])} pixel{'s' * (len(n['pixels_px']) != 1)}",
        }[self.kind]()
        return ("erased: " if self.erase else "masked: ") + ("all outside the " if self.outside else "") + what


def rectangle(corner: tuple[float, float], opposite: tuple[float, float], **how: bool) -> Stroke:
    """A rectangle between two places (column, row); the pixels in which they lie are its edges."""
    (x0, x1), (y0, y1) = (sorted(round(v) for v in pair) for pair in zip(corner, opposite))
    return Stroke("rectangle", {"x_px": (x0, x1), "y_px": (y0, y1)}, **how)


def circle(center: tuple[float, float], edge: tuple[float, float], **how: bool) -> Stroke:
    """A circle about a place (column, row) through another, in tenths of a pixel."""
    x, y = (round(float(v), 1) for v in center)
    radius = round(float(np.hypot(edge[0] - x, edge[1] - y)), 1)
    return Stroke("circle", {"center_px": (x, y), "radius_px": max(radius, 0.1)}, **how)


def polygon(corners: list[tuple[float, float]], **how: bool) -> Stroke:
    """A polygon through places (column, row), in tenths of a pixel."""
    return Stroke("polygon", {"corners_px": [(round(float(x), 1), round(float(y), 1)) for x, y in corners]}, **how)


def pixels(places: list[tuple[float, float]], *, erase: bool = False) -> Stroke:
    """Single pixels (column, row)."""
    return Stroke("pixels", {"pixels_px": list(dict.fromkeys((round(x), round(y)) for x, y in places))}, erase=erase)


@dataclass
class Drawing:
    """Strokes on a frame of a shape (rows, columns), over a mask that was there before (True = not used)."""

    shape: tuple[int, int]
    start: Mask | None = None
    strokes: list[Stroke] = field(default_factory=list)
    undone: list[Stroke] = field(default_factory=list)

    def __post_init__(self) -> None:
        if self.start is not None and self.start.shape != self.shape:
            raise input_error(
                f"a mask of shape {self.start.shape} for a frame of {self.shape}.",
                "Give a mask of the frame's own shape, rows first.",
            )
        self._mask = self._fold()

    def add(self, stroke: Stroke) -> None:
        """Draw a stroke. Raises InputError for one that touches no pixel; nothing is changed then."""
        self._mask = self._apply(self._mask, stroke)
        self.strokes.append(stroke)
        self.undone.clear()

    def undo(self) -> Stroke | None:
        """Take the last stroke back; None where there is none."""
        if not self.strokes:
            return None
        self.undone.append(self.strokes.pop())
        self._mask = self._fold()
        return self.undone[-1]

    def redo(self) -> Stroke | None:
        """Draw again what was taken back last; None where there is none."""
        if not self.undone:
            return None
        stroke = self.undone.pop()
        self._mask = self._apply(self._mask, stroke)
        self.strokes.append(stroke)
        return stroke

    @property
    def mask(self) -> Mask:
        """(rows, columns) True = not used; a copy."""
        return self._mask.copy()

    def _apply(self, mask: Mask, stroke: Stroke) -> Mask:
        touched = stroke.pixels(self.shape)
        return mask & ~touched if stroke.erase else mask | touched

    def _fold(self) -> Mask:
        mask = np.zeros(self.shape, dtype=bool) if self.start is None else np.array(self.start, dtype=bool)
        for stroke in self.strokes:
            mask = self._apply(mask, stroke)
        return mask

    @property
    def toml(self) -> str:
        """The shapes for the ``[mask]`` section of a study; the very pixels of `mask`. Empty where nothing is masked."""
        whole: list[tuple[Stroke, Mask]] = []  # shapes that nothing cuts into, with their pixels
        rest = np.zeros(self.shape, dtype=bool) if self.start is None else np.array(self.start, dtype=bool)
        for stroke in self.strokes:
            touched = stroke.pixels(self.shape)
            if not stroke.erase:
                if stroke.kind == "pixels":
                    rest |= touched
                else:
                    whole.append((stroke, touched))
                continue
            for _, own in whole:
                if (own & touched).any():
                    rest |= own
            whole = [(other, own) for other, own in whole if not (own & touched).any()]
            rest &= ~touched
        lines = [_shape_lines(stroke) for stroke, _ in whole]
        for x_px, y_px in cover(rest):
            lines.append(_shape_lines(Stroke("rectangle", {"x_px": x_px, "y_px": y_px})))
        return "\n\n".join(lines) + ("\n" if lines else "")

    @property
    def code(self) -> str:
        """Python that makes the mask, stroke by stroke."""
        first = (
            "start.copy()  # the mask that was there"
            if self.start is not None
            else f"np.zeros({self.shape}, dtype=bool)"
        )
        lines = [f"masked = {first}"]
        for s in self.strokes:
            if s.kind == "pixels":
                columns, rows = zip(*s.numbers["pixels_px"])
                lines.append(f"masked[{list(rows)}, {list(columns)}] = {not s.erase}")
                continue
            numbers = ", ".join(f"{key}={value}" for key, value in s.numbers.items()) + (
                ", outside=True" if s.outside else ""
            )
            lines.append(f"masked {'&= ~' if s.erase else '|= '}sl.mask_{s.kind}({self.shape}, {numbers})")
        return "\n".join(lines)


def _shape_lines(stroke: Stroke) -> str:
    lines = [f"[[mask.{stroke.kind}]]"]
    lines += [f"{key} = {_toml_value(value)}" for key, value in stroke.numbers.items()]
    if stroke.outside:
        lines.append("outside = true")
    return "\n".join(lines)


def _toml_value(value: Any) -> str:
    if isinstance(value, (tuple, list)):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    return repr(value)


def strokes_of(text: str) -> list[Stroke]:
    """The shapes under ``[mask]`` of a study's text, ready to be drawn.

    Raises as :func:`sievelight.study.settings.parse_settings`.
    """
    mask = parse_settings(text, name="the mask's text").mask
    found: list[tuple[str, Any, tuple[str, ...]]] = [("rectangle", r, ("x_px", "y_px")) for r in mask.rectangle]
    found += [("circle", c, ("center_px", "radius_px")) for c in mask.circle]
    found += [("polygon", p, ("corners_px",)) for p in mask.polygon]
    return [Stroke(kind, {key: getattr(s, key) for key in keys}, outside=s.outside) for kind, s, keys in found]
