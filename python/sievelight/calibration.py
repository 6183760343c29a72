# SPDX-License-Identifier: GPL-3.0-or-later
"""The calibration of an instrument from one file: open, find defects, find the geometry, say it in a study's words.

Which one do I use, and when?

* :func:`calibrate` for a calibrant's file: distance, beam centre and tilt with their uncertainties, warnings, and the lines
  for a study's ``[instrument]`` section.
* :func:`sievelight.calibrate_rings` where the counts are at hand already.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import plot
from sievelight.errors import input_error
from sievelight.files import write_figure
from sievelight.frames import find_defects, open_frames, read_mask
from sievelight.geometry import Calibrant, DetectorGeometry, RingCalibration, calibrate_rings

__all__ = ["InstrumentCalibration", "calibrate"]


@dataclass(frozen=True)
class InstrumentCalibration:
    """A calibration with the frame it came from."""

    result: RingCalibration
    counts: NDArray[np.float64]
    masked: NDArray[np.bool_]
    notes: list[str] = field(default_factory=list)

    @property
    def warnings(self) -> list[str]:
        """What the calibration itself objects to."""
        return list(self.result.warnings)

    @property
    def toml(self) -> str:
        """Lines for the ``[instrument]`` section of a study; its uncertainties as independent ones."""
        g = self.result.geometry
        distance_u = math.hypot(self.result.u("distance_mm"), g.distance_mm * self.result.calibrant_relative_u)
        centre_u = max(self.result.u(name) for name in ("beam_center_x_px", "beam_center_y_px"))
        lines = [
            "[instrument]",
            f"wavelength_nm = {g.wavelength_nm:.8g}",
            f"distance_mm = {g.distance_mm:.3f}",
            f"distance_u_mm = {distance_u:.3g}",
            f"beam_center_px = [{g.beam_center_x_px:.3f}, {g.beam_center_y_px:.3f}]",
            f"beam_center_u_px = {centre_u:.2g}",
            f"pixel_size_mm = [{g.pixel_size_x_mm:g}, {g.pixel_size_y_mm:g}]",
        ]
        if "pitch_rad" in self.result.parameters:
            lines += [f"pitch_deg = {g.pitch_deg:.4f}", f"yaw_deg = {g.yaw_deg:.4f}"]
        return "\n".join(lines)

    def plot(self, *, axes: Any = None) -> Any:
        """Draw the frame with rings and beam point, and the residuals. Returns both axes."""
        return plot.calibration(self.result, counts=self.counts, masked=self.masked, axes=axes)

    def __repr__(self) -> str:
        return "\n".join(["<InstrumentCalibration", *(f"  {line}" for line in self.lines()), ">"])

    def _repr_html_(self) -> str:
        return f"<pre>{escape(chr(10).join(self.lines()))}</pre><pre>{escape(self.toml)}</pre>"

    def values(self) -> dict[str, Any]:
        """All numbers under their names, for JSON."""
        r, g = self.result, self.result.geometry
        return {
            "calibrant": r.calibrant,
            "calibrant_relative_u": r.calibrant_relative_u,
            "wavelength_nm": g.wavelength_nm,
            "pixel_size_mm": list(g.pixel_size_mm),
            "distance_mm": g.distance_mm,
            "distance_u_mm": r.u("distance_mm"),
            "beam_center_px": list(g.beam_center_px),
            "beam_center_u_px": [r.u("beam_center_x_px"), r.u("beam_center_y_px")],
            "pitch_deg": g.pitch_deg,
            "pitch_u_deg": math.degrees(r.u("pitch_rad")),
            "yaw_deg": g.yaw_deg,
            "yaw_u_deg": math.degrees(r.u("yaw_rad")),
            "residual_px": r.residual_px,
            "rings": [int(k) for k in r.rings],
            "points": int(r.x_px.size),
            "warnings": self.warnings,
            "notes": self.notes,
            "toml": self.toml,
        }

    def lines(self) -> list[str]:
        """The answer in words."""
        r, g = self.result, self.result.geometry
        out = [f"distance  {g.distance_mm:.3f} ± {r.u('distance_mm'):.3f} mm"]
        for label, name, value in (
            ("column", "beam_center_x_px", g.beam_center_x_px),
            ("row", "beam_center_y_px", g.beam_center_y_px),
        ):
            known = f"± {r.u(name):.3f} px" if name in r.parameters else "px (kept)"
            out.append(f"beam {label:<6} {value:.3f} {known}")
        for label, name, value in (("pitch", "pitch_rad", g.pitch_deg), ("yaw", "yaw_rad", g.yaw_deg)):
            if name in r.parameters:
                out.append(f"{label:<9} {value:.3f} ± {math.degrees(r.u(name)):.3f} degrees")
        out.append(
            f"residual  {r.residual_px:.3f} px rms, {r.x_px.size} points on rings {', '.join(str(k) for k in r.rings)}"
        )
        out.append(
            f"the spacing of {r.calibrant} is known to {r.calibrant_relative_u:.1e}, "
            f"{g.distance_mm * r.calibrant_relative_u:.3f} mm of the distance, which comes besides"
        )
        return out

    def save_picture(self, path: str | PathLike[str]) -> None:
        """Write :func:`sievelight.plot.calibration`, whole or not at all, to a file whose suffix names the format."""
        import matplotlib.pyplot as plt

        frame, _ = self.plot()
        figure: Any = frame.figure
        try:
            write_figure(Path(fspath(path)), figure)
        finally:
            plt.close(figure)


def calibrate(
    path: str | PathLike[str],
    *,
    material: str | Calibrant = "silver behenate",
    frames: Sequence[int] | None = None,
    mask: str | PathLike[str] | NDArray[np.bool_] | None = None,
    wavelength_nm: float | None = None,
    pixel_size_mm: float | tuple[float, float] | None = None,
    distance_mm: float | None = None,
    beam_center_px: tuple[float, float] | None = None,
    tilt: bool = False,
    beam_fwhm_mm: float = 0.0,
) -> InstrumentCalibration:
    """Distance, beam centre and, if asked, tilt from a calibrant's file.

    Parameters
    ----------
    path : file of frames; all are summed unless `frames` lists some, from 0.
    material : the calibrant's name, or a Calibrant.
    mask : (rows, columns) True = not used, or the file of a mask. Hot and dead pixels are found besides.
    wavelength_nm, pixel_size_mm : taken from the file where not given.
    distance_mm, beam_center_px : found from the frame; where given they are taken as known within 20 % and 25 px. What the
        file says of them is only compared: files mix up axes and forget the latest move.
    tilt : refine pitch and yaw.  beam_fwhm_mm : as in :func:`sievelight.calibrate_rings`.

    Returns
    -------
    InstrumentCalibration with ``result`` (a RingCalibration), ``toml``, ``warnings``, ``notes``, ``values()``, ``lines()`` and
    ``save_picture(path)``.

    Raises
    ------
    InputError : wavelength or pixel size neither given nor in the file; a wrong call.
    DataError : the file cannot be read, or shows no rings of this calibrant.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> np.save("behenate.npy", sl.examples.rings().counts)
    >>> found = sl.calibrate("behenate.npy", mask=sl.examples.mask(), wavelength_nm=0.154, pixel_size_mm=1.0)
    >>> print(found.toml)
    [instrument]
    wavelength_nm = 0.154
    distance_mm = ...
    """
    file = open_frames(path)
    frame = file.read_sum(list(frames) if frames is not None else [])
    said = frame.metadata
    if wavelength_nm is None:
        wavelength_nm = said.wavelength_nm
    if pixel_size_mm is None and said.pixel_size_x_mm is not None:
        pixel_size_mm = (said.pixel_size_x_mm, said.pixel_size_y_mm or said.pixel_size_x_mm)
    if missing := [n for n, v in (("wavelength_nm", wavelength_nm), ("pixel_size_mm", pixel_size_mm)) if v is None]:
        raise input_error(
            f"calibrate: '{fspath(path)}' does not say {' and '.join(missing)}.",
            "Give what is missing: "
            + ", ".join(f"--{name.replace('_', '-')}" for name in missing)
            + " on the command line.",
        )
    masked = np.array(frame.masked, dtype=bool)
    rows, columns = frame.counts.shape
    if isinstance(mask, (str, PathLike)):
        masked |= read_mask(mask, rows=rows, columns=columns)
    elif mask is not None:
        if np.shape(mask) != masked.shape:
            raise input_error(
                f"calibrate: a mask of shape {np.shape(mask)} for frames of {masked.shape}.",
                "Give a mask of the frames' own shape, rows first.",
            )
        masked |= np.asarray(mask, dtype=bool)
    if min(rows, columns) > 2:
        masked |= find_defects(frame.counts, masked=masked)
    result = calibrate_rings(
        frame.counts,
        masked=masked,
        wavelength_nm=wavelength_nm,
        pixel_size_mm=pixel_size_mm,
        distance_mm=distance_mm,
        beam_center_px=beam_center_px,
        calibrant=material,
        refine_tilt=tilt,
        beam_fwhm_mm=beam_fwhm_mm,
    )
    notes = [*said.notes, *disagreements(result.geometry, said, who="the rings say")]
    return InstrumentCalibration(result, frame.counts, masked, notes)


def disagreements(g: DetectorGeometry, said: Any, *, who: str) -> list[str]:
    """Where a file's own geometry (its metadata, `said`) differs from the one that is used, which comes from `who`.

    Limits: two pixels; 1 % of the distance; of wavelength and pixel size 5e-4, less than which they are rounded.
    """
    notes = []
    for what, theirs, ours, limit, unit in (
        ("wavelength", said.wavelength_nm, g.wavelength_nm, 5e-4, "nm"),
        ("distance", said.distance_mm, g.distance_mm, 0.01, "mm"),
        ("pixel width", said.pixel_size_x_mm, g.pixel_size_x_mm, 5e-4, "mm"),
        ("pixel height", said.pixel_size_y_mm, g.pixel_size_y_mm, 5e-4, "mm"),
    ):
        if theirs is not None and abs(theirs / ours - 1) > limit:
            notes.append(f"the file says a {what} of {theirs:.6g} {unit}; {who} {ours:.6g} {unit}")
    if said.beam_center_x_px is not None and said.beam_center_y_px is not None:
        off = math.hypot(said.beam_center_x_px - g.beam_center_x_px, said.beam_center_y_px - g.beam_center_y_px)
        swapped = math.hypot(said.beam_center_y_px - g.beam_center_x_px, said.beam_center_x_px - g.beam_center_y_px)
        if off > 2.0:
            why = "; it agrees with column and row exchanged" if swapped < 2.0 else ""
            notes.append(
                f"the file says a beam point of ({said.beam_center_x_px:.1f}, {said.beam_center_y_px:.1f}); {who} "
                f"({g.beam_center_x_px:.1f}, {g.beam_center_y_px:.1f}){why}"
            )
    return notes
