# SPDX-License-Identifier: GPL-3.0-or-later
"""A figure in a notebook whose moving parts are redrawn alone.

The still parts are drawn once and kept as pixels; when something moves they are put back and only the moving artists are
drawn over them, so a drag costs milliseconds. The figure belongs to no pyplot state and needs no `%matplotlib` line.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
from ipympl.backend_nbagg import Canvas, FigureManager
from matplotlib.artist import Artist
from matplotlib.backend_bases import KeyEvent, MouseEvent
from matplotlib.figure import Figure
from PIL import Image

from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.plot import styled
from sievelight.widgets.kernel import one_at_a_time

Handler = Callable[[Any], None]
PATIENCE_S = 0.5  # for the page to come for a picture
SMALL_BYTES = 100_000  # ten pictures of curves a second are 0.5 MB; of frames they would be 4
GATHER_S = 0.008  # in which moves that have piled up are read, before the last of them is followed


class _Canvas(Canvas):  # type: ignore[misc]
    """A canvas that draws when the page asks for a picture, and then only what it must.

    For large pictures the page asks when it has got the last one, so a slow line gets fewer pictures and no queue. Every
    picture is whole: ipympl's own differences are lost where two come faster than the page decodes them, and leave stripes.
    """

    still_is_old = True  # the parts that stand still must be drawn anew
    small = False  # pictures so small that a slow line will not fall behind
    asked = False  # the page was told that there is something new, and has not come for it yet
    paint_moving: Callable[[], None]

    @one_at_a_time
    def draw_idle(self) -> None:  # what Matplotlib calls when anything has changed, e.g. by the toolbar
        self.still_is_old = True
        self.ask_to_be_painted()

    @one_at_a_time
    def ask_to_be_painted(self) -> None:
        """Give the page a picture at once where pictures are small; else let it ask for one when it is ready."""
        if self.small and not self.syncing_data_url and not self.still_is_old:
            self.handle_draw({})
            return
        self.send_event("draw")
        if not self.asked:
            self.asked = True
            with contextlib.suppress(RuntimeError):  # no loop runs, e.g. in a script's test
                asyncio.get_running_loop().call_later(PATIENCE_S, self._do_not_wait)

    @one_at_a_time
    def _do_not_wait(self) -> None:
        """A page that was still waiting for the last picture does not ask again, and that picture may have crossed."""
        if self.asked:
            self.handle_draw({})

    @one_at_a_time
    def handle_draw(self, event: Any) -> None:
        self.asked = False
        if self.still_is_old:
            self.still_is_old = False
            self.draw()
            return
        self.paint_moving()
        self._png_is_old = True
        self.manager.refresh_all()

    def get_diff_image(self) -> bytes | None:
        if not self._png_is_old:
            return None
        self._png_is_old = self._force_full = False
        with io.BytesIO() as png:
            pixels = np.asarray(self.get_renderer().buffer_rgba())
            Image.fromarray(pixels).save(png, format="png", compress_level=1)  # a third of the time, 5 % larger
            self.small = png.tell() < SMALL_BYTES
            return png.getvalue()

    def send_binary(self, data: Any) -> None:
        # Before the page is there, ipympl would keep each picture in the widget's state without saying that it is a PNG,
        # which the page cannot show: it then shows nothing at all, ever.
        if not self.syncing_data_url:
            super().send_binary(data)


class LiveFigure:
    """A figure, its canvas widget, and what the hand does on it."""

    def __init__(self, *, width_in: float, height_in: float, toolbar: bool, name: str) -> None:
        with styled():
            self.figure = Figure(figsize=(width_in, height_in), layout="constrained")
        if toolbar:  # it lies over the picture's left edge
            engine: Any = self.figure.get_layout_engine()
            engine.set(rect=(0.55 / width_in, 0, 1 - 0.55 / width_in, 1))
        self.canvas: Any = _Canvas(self.figure)
        with warnings.catch_warnings():  # ipympl's toolbar calls traitlets in a way that is on its way out
            warnings.filterwarnings("ignore", "Passing unrecognized arguments", DeprecationWarning)
            manager = FigureManager(self.canvas, 0)
        # Matplotlib's own keys (arrows go through the views, l makes an axis logarithmic, ...) would be in the way.
        for own in (manager.key_press_handler_id, manager.button_press_handler_id):
            self.canvas.mpl_disconnect(own)
        self.canvas.header_visible = False
        self.canvas.footer_visible = False
        self.canvas.resizable = False
        self.canvas.toolbar_visible = toolbar
        self.canvas.toolbar_position = "left"
        self.canvas._figure_label = name
        self.moving: list[Artist] = []
        self.tell: Callable[[str], None] = lambda words: None
        self.before: Any = None  # the controls that Tab goes to from the picture
        self.after: Any = None
        self._background: Any = None  # the still parts as pixels
        self.canvas.paint_moving = self._paint_moving
        self._waiting: tuple[Handler, MouseEvent] | None = None
        self.canvas.mpl_connect("draw_event", self._keep)

    def axes(self, *args: Any, **kwargs: Any) -> Any:
        """Axes in the house style, as `Figure.subplots` makes them."""
        with styled():
            return self.figure.subplots(*args, **kwargs)

    def add_moving(self, *artists: Artist) -> None:
        """Say that these artists change while the rest stands still."""
        for artist in artists:
            artist.set_animated(True)
            self.moving.append(artist)

    def refresh(self) -> None:
        """Have the moving parts drawn as they are now over the still ones."""
        self.canvas.ask_to_be_painted()

    def redraw(self) -> None:
        """Have everything drawn anew, because a still part changed."""
        self.canvas.draw_idle()

    def lay_out(self) -> None:
        """Arrange axes and labels, once: arranging them at every drawing would cost a hundred milliseconds a time."""
        self.figure.draw_without_rendering()
        self.figure.set_layout_engine("none")

    def _keep(self, event: Any) -> None:
        if not self.canvas.is_saving():
            self._background = self.canvas.copy_from_bbox(self.figure.bbox)
            self._draw_moving()

    def _paint_moving(self) -> None:
        self.canvas.restore_region(self._background)
        self._draw_moving()

    def _draw_moving(self) -> None:
        for artist in sorted(self.moving, key=lambda a: a.get_zorder()):
            if artist.get_visible():
                self.figure.draw_artist(artist)

    @one_at_a_time
    def png(self) -> bytes:
        """The picture as it stands, for where a notebook is read without its kernel."""
        file = io.BytesIO()
        self.figure.savefig(file, format="png", dpi="figure")
        return file.getvalue()

    def on_mouse(self, *, press: Handler, move: Handler, release: Handler) -> None:
        """Give the mouse's events inside the axes to these; not while the toolbar zooms or pans."""
        self.canvas.mpl_connect("button_press_event", lambda event: self._mouse(press, event))
        self.canvas.mpl_connect("button_release_event", lambda event: self._mouse(release, event))
        self.canvas.mpl_connect("motion_notify_event", lambda event: self._later(move, event))

    def on_key(self, handler: Handler) -> None:
        """Give the keys to this one, but not Tab, which leaves the picture."""

        @one_at_a_time
        def pressed(event: KeyEvent) -> None:
            # The canvas swallows every key, Tab too; without this nobody would get out by the keyboard.
            if event.key in ("tab", "shift+tab"):
                there = self.after if event.key == "tab" else self.before
                if there is not None:
                    there.focus()
                return
            self._safely(handler, event)

        self.canvas.mpl_connect("key_press_event", pressed)

    @one_at_a_time
    def _mouse(self, handler: Handler, event: MouseEvent) -> None:
        self._waiting = None  # a move that nobody has seen yet is overtaken
        if not self.canvas.manager.toolbar.mode:
            self._safely(handler, event)

    @one_at_a_time
    def _later(self, handler: Handler, event: MouseEvent) -> None:
        """Of moves that arrive faster than they can be drawn only the last one counts."""
        if self.canvas.manager.toolbar.mode:
            return
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._safely(handler, event)
            return
        if self._waiting is None:
            loop.call_later(GATHER_S, self._catch_up)
        self._waiting = (handler, event)

    @one_at_a_time
    def _catch_up(self) -> None:
        if self._waiting is not None:
            handler, event = self._waiting
            self._waiting = None
            self._safely(handler, event)

    def _safely(self, handler: Handler, event: Any) -> None:
        """An error inside an event would vanish in the kernel's log; it is said where the hand is."""
        try:
            handler(event)
        except SIEVELIGHT_ERRORS as error:
            self.tell(str(error))
