# SPDX-License-Identifier: GPL-3.0-or-later
"""Pick the beam point on a frame, see a calibrant's rings move with it, and let the rings or the beam's spot refine it."""

from __future__ import annotations

import math
from typing import Any

import ipywidgets as ipw
import numpy as np
from matplotlib.collections import LineCollection
from numpy.typing import NDArray

from sievelight import geometry as geometries
from sievelight._core import BeamCenter, DetectorGeometry, RingCalibration
from sievelight.errors import input_error
from sievelight.widgets.begin_geometry import as_call, geometry_to_begin
from sievelight.widgets.controls import Shown, StatusLine, TextToCopy, button, row, watch
from sievelight.widgets.frame_view import FrameView, arrow, frame_and_mask
from sievelight.widgets.kernel import need_kernel, one_at_a_time
from sievelight.widgets.rings import distance_through, ring_lines

HELP = (
    "Click or drag on the frame: the rings follow. Keys on the picture: arrows move the beam point by 1 px (Shift 10, "
    "Ctrl 0.1), + and - change the distance by 1 %, Tab leaves the picture."
)
NO_RINGS = "no rings"
THE_BEAM, A_RING = "the beam point", "a place on the ring"


class BeamPicker(Shown):
    """Finds the beam point (and with a calibrant the distance) by hand and eye, then refines it.

    Parameters
    ----------
    frame : counts (rows, columns), a Frame, a FrameFile, or the path of a file, whose exposures are summed.
    start : where to begin. Without it:
    wavelength_nm, pixel_size_mm : needed; taken from the file's metadata where they stand there.
    distance_mm, beam_center_px : where known; else the file's, else 1000 mm and the middle of the frame.
    calibrant : its name; rings of it are drawn. None for a frame without rings.
    masked : (rows, columns) True = not used.

    Attributes
    ----------
    geometry : the DetectorGeometry as it stands.
    calibration : the RingCalibration, while nothing was moved by hand since; else None.
    beam : the BeamCenter found on the beam's spot, likewise.
    toml : lines for a study's ``[instrument]`` section, with uncertainties where something was refined.
    code : Python that gives the same geometry.

    Raises
    ------
    InputError : outside of a notebook; wavelength or pixel size not known; an unknown calibrant or unfit mask.
    DataError : a file that cannot be read.

    Examples
    --------
    ::

        picker = widgets.BeamPicker("frames/agbeh.h5", wavelength_nm=0.154187)   # and `picker` on the last line
        pixels = sl.pixel_map(picker.geometry, rows, columns)
    """

    def __init__(
        self,
        frame: NDArray[Any] | Any,
        *,
        start: DetectorGeometry | None = None,
        wavelength_nm: float | None = None,
        pixel_size_mm: float | tuple[float, float] | None = None,
        distance_mm: float | None = None,
        beam_center_px: tuple[float, float] | None = None,
        calibrant: str | None = "silver behenate",
        masked: NDArray[np.bool_] | None = None,
    ) -> None:
        need_kernel("BeamPicker", "sl.calibrate_rings(frame, wavelength_nm=..., pixel_size_mm=...).geometry")
        counts, unusable, said = frame_and_mask(frame, masked)
        self.geometry = start or geometry_to_begin(
            counts.shape, said, wavelength_nm, pixel_size_mm, distance_mm, beam_center_px
        )
        self.calibration: RingCalibration | None = None
        self.beam: BeamCenter | None = None
        self._how = ""  # the refining call, as Python
        self._calibrants = {name: geometries.calibrant(name) for name in geometries.known_calibrants()}
        if calibrant is not None:
            self._calibrants.setdefault(geometries.calibrant(calibrant).name, geometries.calibrant(calibrant))
        self._frame = FrameView(counts, unusable=unusable, name="Frame with the beam point")
        self._dragging = self._syncing = False
        ax = self._frame.ax
        # Dark below light: seen on any colour of the map, and in grey.
        self._rings = [
            LineCollection([], colors="black", linewidths=2.0, zorder=4, alpha=0.6),
            LineCollection([], colors="white", linewidths=1.0, linestyles="--", zorder=5),
        ]
        for lines in self._rings:
            ax.add_collection(lines, autolim=False)
        self._crosses = [
            ax.plot([], [], "+", color=color, ms=16, mew=width, zorder=z)[0]
            for color, width, z in (("black", 3.0, 6), ("white", 1.4, 7))
        ]
        self._frame.live.add_moving(*self._rings, *self._crosses)
        self._make_controls(None if calibrant is None else geometries.calibrant(calibrant).name)
        live = self._frame.live
        live.tell = self._status.say_wrong
        live.on_mouse(press=self._press, move=self._move, release=self._release)
        live.on_key(self._key)
        self._show(HELP)
        live.lay_out()

    def _png(self) -> bytes:
        return self._frame.live.png()

    # What it gives.

    @property
    def beam_center_px(self) -> tuple[float, float]:
        """Column and row of the beam point."""
        return self.geometry.beam_center_px

    @property
    def toml(self) -> str:
        """Lines for a study's ``[instrument]`` section; numbers to 1e-4 mm, px and degree."""
        g = self.geometry
        lines = ["[instrument]", f"wavelength_nm = {g.wavelength_nm:.8g}", f"distance_mm = {g.distance_mm:.4f}"]
        if self.calibration is not None:
            spacing = g.distance_mm * self.calibration.calibrant_relative_u
            lines.append(f"distance_u_mm = {math.hypot(self.calibration.u('distance_mm'), spacing):.3g}")
        lines.append(f"beam_center_px = [{g.beam_center_x_px:.4f}, {g.beam_center_y_px:.4f}]")
        if (u := self._center_u_px()) is not None:
            lines.append(f"beam_center_u_px = {u:.2g}")
        lines.append(f"pixel_size_mm = [{g.pixel_size_x_mm:.8g}, {g.pixel_size_y_mm:.8g}]")
        tilts = {"pitch_deg": g.pitch_deg, "yaw_deg": g.yaw_deg, "roll_deg": g.roll_deg}
        lines += [f"{name} = {angle:.4f}" for name, angle in tilts.items() if angle != 0.0]
        return "\n".join(lines) + "\n"

    @property
    def code(self) -> str:
        """Python that gives the same geometry; `counts` and `masked` are the frame's."""
        return self._how or f"geometry = {as_call(self.geometry)}"

    def _center_u_px(self) -> float | None:
        if self.calibration is not None:
            return max(self.calibration.u(name) for name in ("beam_center_x_px", "beam_center_y_px"))
        return None if self.beam is None else max(self.beam.u_x_px, self.beam.u_y_px)

    # What the hand does.

    def move_to(self, column: float, row: float) -> None:
        """Set the beam point by hand, to the hundredth of a pixel."""
        self._by_hand(beam_center_x_px=round(float(column), 2), beam_center_y_px=round(float(row), 2))

    def set_distance(self, distance_mm: float) -> None:
        """Set the distance by hand, to the hundredth of a millimetre."""
        self._by_hand(distance_mm=round(float(distance_mm), 2))

    @one_at_a_time
    def put_ring_through(self, column: float, row: float, *, ring: int = 1) -> None:
        """Choose the distance at which a calibrant's ring, counted from the innermost, runs through a place."""
        spacings = self._calibrant().d_nm
        if not 1 <= ring <= len(spacings):
            raise input_error(f"there is no ring {ring}.", f"Count from 1, the innermost, to {len(spacings)}.")
        self.set_distance(distance_through(self.geometry, 2 * math.pi / spacings[ring - 1], (column, row)))

    @one_at_a_time
    def refine_on_rings(self, *, tilt: bool | None = None) -> RingCalibration:
        """Refine distance and beam point (and tilt) on the calibrant's rings, from where they stand."""
        refine_tilt = bool(self._tilt.value) if tilt is None else tilt
        material = self._calibrant()
        start = self.geometry
        found = geometries.calibrate_rings(
            self._frame.counts,
            start=start,
            calibrant=material,
            masked=self._frame.unusable,
            refine_tilt=refine_tilt,
        )
        self.geometry, self.calibration, self.beam = found.geometry, found, None
        self._how = (
            f"start = {as_call(start)}\n"
            f'calibration = sl.calibrate_rings(counts, start=start, calibrant="{material.name}", masked=masked, refine_tilt={refine_tilt})\n'
            "geometry = calibration.geometry"
        )
        g = found.geometry
        words = [
            f"Refined on rings {', '.join(str(k) for k in found.rings)}: {found.residual_px:.3f} px rms. "
            f"Distance {g.distance_mm:.3f} ± {found.u('distance_mm'):.3f} mm, column {g.beam_center_x_px:.3f} ± "
            f"{found.u('beam_center_x_px'):.3f}, row {g.beam_center_y_px:.3f} ± {found.u('beam_center_y_px'):.3f} px.",
            *found.warnings,
        ]
        self._show("\n".join(words))
        return found

    @one_at_a_time
    def refine_on_beam(self, *, search_px: float = 20.0) -> BeamCenter:
        """Put the beam point on the centroid of the beam's own spot, looked for within `search_px` of where it stands."""
        start = self.geometry
        near = start.beam_center_px
        found = geometries.find_beam_center(
            self._frame.counts, near_px=near, search_px=search_px, masked=self._frame.unusable
        )
        self.geometry = start.replace(beam_center_x_px=found.x_px, beam_center_y_px=found.y_px)
        self.calibration, self.beam = None, found
        self._how = (
            f"beam = sl.find_beam_center(counts, near_px=({near[0]!r}, {near[1]!r}), search_px={search_px!r}, masked=masked)\n"
            f"geometry = {as_call(start)}\n"
            "geometry = geometry.replace(beam_center_x_px=beam.x_px, beam_center_y_px=beam.y_px)"
        )
        words = f"On the beam's spot: column {found.x_px:.3f} ± {found.u_x_px:.3f}, row {found.y_px:.3f} ± {found.u_y_px:.3f} px."
        self._show("\n".join([words, *found.warnings]))
        return found

    @one_at_a_time
    def _by_hand(self, **changed: float) -> None:
        self.geometry = self.geometry.replace(**changed)
        self.calibration = self.beam = None
        self._how = ""
        g = self.geometry
        self._show(
            f"Beam point at column {g.beam_center_x_px:.2f}, row {g.beam_center_y_px:.2f}; distance {g.distance_mm:.2f} mm."
        )

    def _calibrant(self) -> Any:
        if self._material.value == NO_RINGS:
            raise input_error(
                "no calibrant is chosen.", "Choose the one that was measured, or refine on the beam's spot."
            )
        return self._calibrants[self._material.value]

    def _make_controls(self, calibrant: str | None) -> None:
        self._status = StatusLine()
        wide = {"description_width": "auto"}

        def box(label: str, value: float, low: float, high: float, step: float) -> Any:
            made = ipw.BoundedFloatText(
                value=value,
                min=low,
                max=high,
                step=step,
                description=label,
                style=wide,
                layout=ipw.Layout(width="200px"),
            )
            watch(made, lambda: self._typed(made), self._status)
            return made

        g, (rows, columns) = self.geometry, self._frame.counts.shape
        self._column = box("column / px", g.beam_center_x_px, -20.0 * columns, 21.0 * columns, 0.1)
        self._row = box("row / px", g.beam_center_y_px, -20.0 * rows, 21.0 * rows, 0.1)
        self._distance = box("distance / mm", g.distance_mm, 1.0, 1e5, 1.0)
        # Buttons and no list: in a list JupyterLab takes the arrow keys for itself.
        self._material = ipw.ToggleButtons(
            options=[NO_RINGS, *self._calibrants],
            value=calibrant or NO_RINGS,
            description="Rings of",
            style={**wide, "button_width": "auto"},
        )
        watch(self._material, lambda: self._show("Rings of another calibrant."), self._status)
        self._click = ipw.ToggleButtons(
            options=[THE_BEAM, A_RING], description="A click is", style={**wide, "button_width": "auto"}
        )
        self._ring = ipw.BoundedIntText(
            value=1, min=1, max=50, description="ring number", style=wide, layout=ipw.Layout(width="150px")
        )
        self._tilt = ipw.Checkbox(value=False, description="tilt too", indent=False, layout=ipw.Layout(width="auto"))
        on_rings = button("Refine on the rings", self.refine_on_rings, self._status)
        on_beam = button("Refine on the beam's spot", self.refine_on_beam, self._status)
        self._text = TextToCopy("For the study", rows=7)
        self._frame.live.before, self._frame.live.after = on_beam, self._text.text
        self.view = ipw.VBox(
            [
                row([self._click, self._ring]),
                row([self._material]),
                row([self._column, self._row, self._distance]),
                row([on_rings, self._tilt, on_beam]),
                self._frame.live.canvas,
                self._status.box,
                self._text.box,
            ]
        )

    def _typed(self, box: Any) -> None:
        if self._syncing:
            return
        if box is self._distance:
            self.set_distance(self._distance.value)
        else:
            self.move_to(self._column.value, self._row.value)

    def _show(self, words: str) -> None:
        g = self.geometry
        self._syncing = True
        self._column.value, self._row.value = round(g.beam_center_x_px, 3), round(g.beam_center_y_px, 3)
        self._distance.value = round(g.distance_mm, 3)
        self._syncing = False
        lines = []
        if self._material.value != NO_RINGS:
            lines = ring_lines(g, self._calibrant(), self._frame.counts.shape)
            words += f"\n{len(lines)} ring{'s' * (len(lines) != 1)} of {self._material.value} in view."
        for collection in self._rings:
            collection.set_segments(lines)
        for cross in self._crosses:
            cross.set_data([g.beam_center_x_px], [g.beam_center_y_px])
        self._frame.live.refresh()
        self._status.say(words)
        self._text.show(self.toml)

    def _pick(self, event: Any) -> None:
        place = self._frame.inside(event)
        if place is None:
            return
        if self._click.value == A_RING:
            self.put_ring_through(*place, ring=self._ring.value)
        else:
            self.move_to(*place)

    def _press(self, event: Any) -> None:
        if event.button == 1 and self._frame.inside(event) is not None:
            self._dragging = True
            self._pick(event)

    def _move(self, event: Any) -> None:
        if self._dragging:
            self._pick(event)

    def _release(self, event: Any) -> None:
        if self._dragging:
            self._dragging = False
            self._pick(event)

    def _key(self, event: Any) -> None:
        key = event.key or ""
        step = arrow(key.removeprefix("ctrl+"))
        if step is not None:
            fine = 0.1 if key.startswith("ctrl+") else 1.0
            x, y = self.geometry.beam_center_px
            self.move_to(x + fine * step[0], y + fine * step[1])
        elif key in ("+", "="):
            self.set_distance(self.geometry.distance_mm * 1.01)
        elif key == "-":
            self.set_distance(self.geometry.distance_mm / 1.01)
