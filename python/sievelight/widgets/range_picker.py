# SPDX-License-Identifier: GPL-3.0-or-later
"""Drag a range of q on a curve and see Rg, x50 and their bands follow."""

from __future__ import annotations

from typing import Any

import ipywidgets as ipw
import numpy as np

from sievelight._core import Estimate, GuinierFit, SizeDistribution
from sievelight.widgets.controls import Shown, StatusLine, TextToCopy, button, row, watch
from sievelight.widgets.kernel import need_kernel, one_at_a_time
from sievelight.widgets.range_picture import RangePicture, numbers_table
from sievelight.widgets.ranges import BACKGROUND, GUINIER, SIZES, Ranges

HELP = (
    "Drag over the curve to choose a new range, or drag one of its edges. Keys on the picture: Left and Right move the thick "
    "edge by a point of the curve (Shift 10), Up and Down change edges, Tab leaves the picture."
)
NEAR_PX = 9.0  # an edge is taken when the pointer is so near


class RangePicker(Shown):
    """Chooses q ranges of Guinier's law, of the sizes and of the background by hand.

    Parameters
    ----------
    curve : the Curve. With a `background` the sample before subtraction: an Averaged, a Measured or a Curve.
    background : an Averaged, a Measured or a Curve on the same bins; its factor is then fitted to the sample over the
        background's range, where the sample is taken not to scatter.
    guinier, sizes, background_range : ranges (low, high) in 1/nm to begin with; automatic where left out.
    subtraction : with a background, further arguments of `sl.absolute_curve` (transmissions, thickness_mm, ...).
    **inversion : further arguments of `sl.invert` (shape, power_law, contrast_per_cm2, diameter_nm, ...).

    Attributes
    ----------
    guinier_range, sizes_range, background_range : (low, high) as chosen by hand, else None.
    rg_nm, x50_nm : estimates with `value`, `u`, `band68`, `band95`; None where there is none.
    curve, guinier, size : the curve after subtraction, the GuinierFit and the quick look's SizeDistribution.
    values() : all numbers under their names.  toml, code : the same ranges for a study, and as Python.

    x50 is that of the quick look (`method="evidence"`), which answers in about 10 ms; for results invert with the full
    method over the range that was found.

    Raises
    ------
    InputError : outside of a notebook; no curve; fewer than five points above zero; an empty range.

    Examples
    --------
    ::

        picker = widgets.RangePicker(curve, power_law=True)   # and `picker` on the last line
        sizes = sl.invert(curve, q_range_per_nm=picker.sizes_range, power_law=True)
    """

    def __init__(
        self,
        curve: Any,
        *,
        background: Any = None,
        guinier: tuple[float, float] | None = None,
        sizes: tuple[float, float] | None = None,
        background_range: tuple[float, float] | None = None,
        subtraction: dict[str, Any] | None = None,
        **inversion: Any,
    ) -> None:
        need_kernel("RangePicker", "sl.fit_guinier(curve, q_range_per_nm=(low, high))")
        given = {GUINIER: guinier, SIZES: sizes, BACKGROUND: background_range if background is not None else None}
        self._ranges = Ranges(
            curve, background, dict(subtraction or {}), inversion, {k: v for k, v in given.items() if v is not None}
        )
        self._whats = [GUINIER, SIZES, *([BACKGROUND] if background is not None else [])]
        self._edge = 1  # which edge the keys move
        self._held: int | None = None  # which edge the pointer drags
        self._anchor = 0.0  # the other end of what is dragged
        self._syncing = False
        self._picture = RangePicture(self._ranges, self._whats)
        self._make_controls()
        live = self._picture.live
        live.tell = self._status.say_wrong
        live.on_mouse(press=self._press, move=self._move, release=self._release)
        live.on_key(self._key)
        self._status.say(HELP)
        self._show()
        live.lay_out()

    def _png(self) -> bytes:
        return self._picture.live.png()

    # What it gives.

    @property
    def guinier_range(self) -> tuple[float, float] | None:
        """Guinier's range (low, high) in 1/nm as chosen by hand."""
        return self._ranges.chosen.get(GUINIER)

    @property
    def sizes_range(self) -> tuple[float, float] | None:
        """The range (low, high) in 1/nm of the sizes as chosen by hand."""
        return self._ranges.chosen.get(SIZES)

    @property
    def background_range(self) -> tuple[float, float] | None:
        """The range (low, high) in 1/nm of the background's factor as chosen by hand."""
        return self._ranges.chosen.get(BACKGROUND)

    @property
    def curve(self) -> Any:
        """The curve, after subtraction where there is a background."""
        return self._ranges.curve

    @property
    def guinier(self) -> GuinierFit | None:
        """The fit of Guinier's law."""
        return self._ranges.guinier

    @property
    def size(self) -> SizeDistribution | None:
        """The quick look at the sizes."""
        return self._ranges.size

    @property
    def rg_nm(self) -> Any:
        """Radius of gyration with its bands."""
        return self._ranges.rg_nm

    @property
    def x50_nm(self) -> Estimate | None:
        """Median diameter of the quick look with its bands."""
        return self._ranges.x50_nm

    def values(self) -> dict[str, Any]:
        """All numbers under their names; None where there is none."""
        return self._ranges.values()

    @property
    def toml(self) -> str:
        """Lines for a study with the ranges chosen by hand."""
        return self._ranges.toml

    @property
    def code(self) -> str:
        """Python that gives the same numbers."""
        return self._ranges.code

    # What the hand does.

    @one_at_a_time
    def choose(self, what: str, low: float, high: float) -> None:
        """Set a range ("Guinier", "sizes" or "background") as a hand would, in 1/nm."""
        self._ranges.choose(what, low, high)
        self._show()

    @one_at_a_time
    def automatic(self) -> None:
        """Forget the range in hand, so that it is chosen automatically."""
        self._ranges.automatic(self._what.value)
        self._show()

    def _make_controls(self) -> None:
        self._status = StatusLine()
        self._numbers = ipw.HTML()
        wide = {"description_width": "auto"}
        self._what = ipw.ToggleButtons(
            options=self._whats, description="Range of", style={**wide, "button_width": "auto"}
        )
        watch(self._what, self._show, self._status)
        low, high = self._ranges.limits
        self._ends = []
        for label in ("from q / nm⁻¹", "to q / nm⁻¹"):
            box = ipw.BoundedFloatText(
                min=0.99 * low,
                max=1.01 * high,
                step=0.005,
                description=label,
                style=wide,
                layout=ipw.Layout(width="190px"),
            )
            watch(box, self._typed, self._status)
            self._ends.append(box)
        automatic = button("Automatic", self.automatic, self._status, hint="Forget this range; choose it automatically")
        self._text = TextToCopy("For the study", rows=5)
        self._picture.live.before, self._picture.live.after = automatic, self._text.text
        self.view = ipw.VBox(
            [
                row([self._what]),
                row([*self._ends, automatic]),
                self._picture.live.canvas,
                self._numbers,
                self._status.box,
                self._text.box,
            ]
        )

    def _typed(self) -> None:
        if not self._syncing:
            self.choose(self._what.value, self._ends[0].value, self._ends[1].value)

    def _show(self) -> None:
        low, high = self._ranges.now(self._what.value)
        self._syncing = True
        self._ends[0].value, self._ends[1].value = low, high
        self._syncing = False
        self._numbers.value = numbers_table(self._ranges)  # first, since the picture takes longer
        self._picture.show(self._what.value, self._edge)
        self._text.show(self.toml)

    def _press(self, event: Any) -> None:
        if event.button != 1 or event.inaxes is not self._picture.curve_axes or event.xdata is None:
            return
        ends = self._ranges.now(self._what.value)
        away = [abs(event.x - self._picture.pixel_of(q)) for q in ends]
        nearest = int(np.argmin(away))
        if away[nearest] <= NEAR_PX:
            self._held = self._edge = nearest
            self._anchor = ends[1 - nearest]
        else:
            self._held, self._anchor = 1, float(event.xdata)

    def _move(self, event: Any) -> None:
        if self._held is None:
            return
        q = self._picture.q_of(event.x)
        if abs(self._picture.pixel_of(self._anchor) - event.x) < 3:
            return  # a click that shook is no range
        self._edge = int(q > self._anchor)
        self.choose(self._what.value, *sorted((self._anchor, q)))

    def _release(self, event: Any) -> None:
        self._move(event)
        self._held = None

    def _key(self, event: Any) -> None:
        key = (event.key or "").removeprefix("shift+")
        if key in ("up", "down"):
            self._edge = int(key == "up")
            self._show()
        elif key in ("left", "right"):
            by = (10 if event.key.startswith("shift+") else 1) * (1 if key == "right" else -1)
            ends = list(self._ranges.now(self._what.value))
            q = self._ranges.curve.q_per_nm
            here = int(np.argmin(np.abs(np.log(q / ends[self._edge]))))
            ends[self._edge] = float(q[min(max(here + by, 0), len(q) - 1)])
            if ends[0] < ends[1]:
                self.choose(self._what.value, *ends)
