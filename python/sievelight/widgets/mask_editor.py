# SPDX-License-Identifier: GPL-3.0-or-later
"""Draw and edit a mask on a frame, with the mouse or from the keyboard."""

from __future__ import annotations

from collections.abc import Callable
from os import PathLike
from pathlib import Path
from typing import Any

import ipywidgets as ipw
import numpy as np
from numpy.typing import NDArray

from sievelight.errors import input_error
from sievelight.files import write_array
from sievelight.widgets import drawing
from sievelight.widgets.controls import Shown, StatusLine, TextToCopy, button, row, watch
from sievelight.widgets.drawing import Drawing, Stroke, strokes_of
from sievelight.widgets.frame_view import FrameView, arrow, frame_and_mask
from sievelight.widgets.kernel import need_kernel, one_at_a_time

HELP = (
    "Drag a rectangle or a circle (from its centre), click pixels, click the corners of a polygon and double-click the last. "
    "Keys on the picture: arrows move the cursor (with Shift by 10), Space sets a corner, Enter closes a polygon, "
    "Escape drops what is begun, U undoes, R does again, Tab leaves the picture."
)
TWO_PLACES: dict[str, Callable[..., Stroke]] = {"rectangle": drawing.rectangle, "circle": drawing.circle}


class MaskEditor(Shown):
    """Masks a frame by hand.

    Parameters
    ----------
    frame : counts (rows, columns), a Frame, a FrameFile, or the path of a file, whose exposures are summed.
    start : a mask (rows, columns) to go on with, or a study's text with shapes under ``[mask]``.
    masked : (rows, columns) True = cannot be used anyway (dead pixels, a mask file); shown, and not part of the result.

    Attributes
    ----------
    mask : (rows, columns) bool, True = not used; what was drawn, on top of `start`.
    toml : shapes for a study's ``[mask]`` section that give the very same pixels.
    code : Python that makes the mask.
    strokes : what was drawn, in order.

    Raises
    ------
    InputError : outside of a notebook; a frame without a finite count; a mask of another shape.
    DataError : a file that cannot be read.

    Examples
    --------
    In a notebook, the first line in a cell of its own::

        editor = widgets.MaskEditor("frames/empty_beam.h5")   # and `editor` on the last line
        averager = sl.Averager(..., masked=editor.mask)
        print(editor.toml)
    """

    def __init__(
        self,
        frame: NDArray[Any] | Any,
        *,
        start: NDArray[np.bool_] | str | None = None,
        masked: NDArray[np.bool_] | None = None,
    ) -> None:
        need_kernel("MaskEditor", "masked = sl.mask_rectangle(shape, x_px=(10, 20), y_px=(0, 400))")
        counts, unusable, _ = frame_and_mask(frame, masked)
        self._drawing = Drawing(
            counts.shape, None if start is None or isinstance(start, str) else np.asarray(start, bool)
        )
        if isinstance(start, str):
            for stroke in strokes_of(start):
                self._drawing.add(stroke)
        self._frame = FrameView(counts, unusable=unusable, name="Frame to mask")
        self._begun: list[tuple[float, float]] = []  # places of a shape that is not finished
        self._dragging = False
        self._at = self._frame.clamp(counts.shape[1] / 2, counts.shape[0] / 2)
        (self._outline,) = self._frame.ax.plot([], [], "o-", color="white", ms=3, lw=1.2, zorder=5)
        self._frame.live.add_moving(self._outline)
        self._make_controls()
        live = self._frame.live
        live.tell = self._status.say_wrong
        live.on_mouse(press=self._press, move=self._move, release=self._release)
        live.on_key(self._key)
        self._changed(HELP)
        live.lay_out()

    def _png(self) -> bytes:
        return self._frame.live.png()

    # What it gives.

    @property
    def mask(self) -> NDArray[np.bool_]:
        """(rows, columns) True = not used."""
        return self._drawing.mask

    @property
    def toml(self) -> str:
        """Shapes for a study's ``[mask]`` section."""
        return self._drawing.toml

    @property
    def code(self) -> str:
        """Python that makes the mask."""
        return self._drawing.code

    @property
    def strokes(self) -> list[Stroke]:
        """What was drawn, in order."""
        return list(self._drawing.strokes)

    def save(self, path: str | PathLike[str]) -> str:
        """Write the mask as an NPY file and return the lines that name it in a study beside it.

        For masks of thousands of single pixels, which as text would be long. Raises DataError where it cannot be written.
        """
        path = Path(path)
        if path.suffix != ".npy":
            raise input_error(f"the mask would be written to '{path.name}'.", "Give a name that ends in .npy.")
        write_array(path, self.mask)
        return f'[detector]\nmask = "{path.name}"\n'

    # What the hand does.

    @one_at_a_time
    def add(self, stroke: Stroke) -> None:
        """Draw a stroke, as a hand would. Raises InputError for one that touches no pixel."""
        self._drawing.add(stroke)
        self._changed(stroke.words())

    @one_at_a_time
    def undo(self) -> None:
        """Take the last stroke back."""
        stroke = self._drawing.undo()
        self._changed("Nothing to undo." if stroke is None else f"Undone: {stroke.words()}.")

    @one_at_a_time
    def redo(self) -> None:
        """Draw again what was taken back last."""
        stroke = self._drawing.redo()
        self._changed("Nothing was undone." if stroke is None else f"Done again: {stroke.words()}.")

    def _make_controls(self) -> None:
        self._status = StatusLine()
        self._tool = ipw.ToggleButtons(
            options=["rectangle", "circle", "polygon", "pixels"],
            description="Shape",
            style={"button_width": "auto", "description_width": "auto"},
            tooltips=[
                "Drag from corner to corner",
                "Drag from the centre",
                "Click corners, then double-click",
                "Click or drag",
            ],
        )
        self._effect = ipw.ToggleButtons(
            options=["mask", "erase"],
            description="It will",
            style={"button_width": "auto", "description_width": "auto"},
        )
        self._outside = ipw.Checkbox(
            value=False, description="all outside the shape", indent=False, layout=ipw.Layout(width="auto")
        )
        self._undo = button("Undo", self.undo, self._status, hint="Take the last shape back")
        self._redo = button("Redo", self.redo, self._status, hint="Draw it again")
        self._text = TextToCopy("For the study")
        watch(self._tool, self._drop, self._status)
        self._frame.live.before, self._frame.live.after = self._redo, self._undo
        self.view = ipw.VBox(
            [
                row([self._tool, self._effect, self._outside]),
                row([self._undo, self._redo]),
                self._frame.live.canvas,
                self._status.box,
                self._text.box,
            ]
        )

    def _how(self) -> dict[str, bool]:
        return {"erase": self._effect.value == "erase", "outside": self._outside.value}

    def _changed(self, words: str) -> None:
        masked = self._drawing.mask
        n = int(np.count_nonzero(masked))
        self._frame.show_mask(masked | self._frame.unusable)
        self._drop(tell=False)
        total = f"Masked: {n} of {masked.size} pixels ({100 * n / masked.size:.3g} %)."
        if n == masked.size:
            total += " Nothing is left: erase something."
        self._status.say(f"{words}\n{total}")
        self._text.show(self.toml)

    def _drop(self, *, tell: bool = True) -> None:
        self._begun, self._dragging = [], False
        self._show_begun(None)
        if tell:
            self._status.say(f"{self._tool.value}: {self._tool.tooltips[self._tool.index]}.")

    def _show_begun(self, to: tuple[float, float] | None) -> None:
        """The outline of what is begun, as it would be with its next place at `to`."""
        places = [*self._begun, *([to] if to is not None else [])]
        x, y = np.array(places).T if places else np.zeros((2, 0))
        if self._tool.value == "rectangle" and len(places) == 2:
            x, y = x[[0, 1, 1, 0, 0]], y[[0, 0, 1, 1, 0]]
        elif self._tool.value == "circle" and len(places) == 2:
            turn, radius = np.linspace(0, 2 * np.pi, 73), np.hypot(x[1] - x[0], y[1] - y[0])
            x, y = x[0] + radius * np.cos(turn), y[0] + radius * np.sin(turn)
        self._outline.set_data(x, y)
        self._frame.live.refresh()

    def _finish(self) -> None:
        """Make the stroke of what is begun; what cannot be drawn is dropped and said."""
        places, tool, how = self._begun, self._tool.value, self._how()
        self._drop(tell=False)
        if tool == "pixels":
            self.add(drawing.pixels(places, erase=how["erase"]))
        elif tool == "polygon":
            self.add(drawing.polygon(places, **how))
        else:
            self.add(TWO_PLACES[tool](places[0], places[1], **how))

    def _set_place(self, place: tuple[float, float]) -> None:
        """A corner from the keyboard, or of a polygon by a click."""
        self._begun.append(place)
        if self._tool.value == "pixels" or (self._tool.value in TWO_PLACES and len(self._begun) == 2):
            self._finish()
            return
        self._show_begun(None)
        self._status.say(f"{self._tool.value} begun at {self._frame.words_at(*place)}.")

    def _press(self, event: Any) -> None:
        place = self._frame.inside(event)
        if place is None or event.button != 1:
            return
        if self._tool.value == "polygon":
            if not event.dblclick:
                # A double-click is two presses and then itself; the second of them is no corner.
                if not self._begun or np.hypot(place[0] - self._begun[-1][0], place[1] - self._begun[-1][1]) > 0.5:
                    self._set_place(place)
            elif len(self._begun) > 1:
                self._finish()
            return
        self._begun, self._dragging = [place], True
        self._show_begun(None)

    def _move(self, event: Any) -> None:
        place = self._frame.inside(event)
        if place is None:
            return
        if self._dragging and self._tool.value == "pixels":
            self._begun.append(place)
            self._show_begun(None)
        elif self._begun:
            self._show_begun(place)

    def _release(self, event: Any) -> None:
        if not self._dragging:
            return
        self._dragging = False
        if self._tool.value == "pixels":
            self._finish()
            return
        place = self._frame.inside(event)
        if place is None and event.x is not None:  # let go beyond the edge: up to the edge
            place = self._frame.clamp(*self._frame.ax.transData.inverted().transform((event.x, event.y)))
        if place is None or np.hypot(place[0] - self._begun[0][0], place[1] - self._begun[0][1]) < 0.5:
            self._drop()
            return
        self._begun.append(place)
        self._finish()

    def _key(self, event: Any) -> None:
        step = arrow(event.key)
        if step is not None:
            self._at = self._frame.clamp(self._at[0] + step[0], self._at[1] + step[1])
            self._frame.cursor.set_data([self._at[0]], [self._at[1]])
            self._frame.cursor.set_visible(True)
            self._show_begun(self._at if self._begun else None)
            self._status.say(self._frame.words_at(*self._at))
        elif event.key == " ":
            self._set_place(self._at)
        elif event.key == "enter" and self._tool.value == "polygon" and len(self._begun) > 2:
            self._finish()
        elif event.key == "escape":
            self._drop()
        elif event.key in ("u", "ctrl+z"):
            self.undo()
        elif event.key in ("r", "ctrl+y"):
            self.redo()
