# SPDX-License-Identifier: GPL-3.0-or-later
"""The geometry that the beam picker begins with, and a geometry as Python."""

from __future__ import annotations

from typing import Any

from sievelight._core import DetectorGeometry
from sievelight.errors import input_error


def geometry_to_begin(
    shape: tuple[int, ...],
    said: Any,
    wavelength_nm: float | None,
    pixel_size_mm: float | tuple[float, float] | None,
    distance_mm: float | None,
    beam_center_px: tuple[float, float] | None,
) -> DetectorGeometry:
    """The geometry to begin with: given numbers, else the file's (`said`)."""

    def of_file(name: str) -> Any:
        return getattr(said, name, None)

    wavelength_nm = wavelength_nm or of_file("wavelength_nm")
    if pixel_size_mm is None and of_file("pixel_size_x_mm") is not None:
        pixel_size_mm = (of_file("pixel_size_x_mm"), of_file("pixel_size_y_mm") or of_file("pixel_size_x_mm"))
    if wavelength_nm is None or pixel_size_mm is None:
        missing = [n for n, v in (("wavelength_nm", wavelength_nm), ("pixel_size_mm", pixel_size_mm)) if v is None]
        raise input_error(
            f"BeamPicker does not know {' and '.join(missing)}, and the frame does not say.",
            f"Give {' and '.join(f'{name}=...' for name in missing)}, or a start geometry.",
        )
    if beam_center_px is None:
        x, y = of_file("beam_center_x_px"), of_file("beam_center_y_px")
        beam_center_px = ((shape[1] - 1) / 2, (shape[0] - 1) / 2) if x is None or y is None else (x, y)
    side_x, side_y = pixel_size_mm if isinstance(pixel_size_mm, (tuple, list)) else (pixel_size_mm, pixel_size_mm)
    return DetectorGeometry(
        wavelength_nm=wavelength_nm,
        distance_mm=distance_mm or of_file("distance_mm") or 1000.0,
        beam_center_x_px=beam_center_px[0],
        beam_center_y_px=beam_center_px[1],
        pixel_size_x_mm=side_x,
        pixel_size_y_mm=side_y,
    )


def as_call(g: DetectorGeometry) -> str:
    """The geometry as a call of Python, to the last digit."""
    names = (
        "wavelength_nm",
        "distance_mm",
        "beam_center_x_px",
        "beam_center_y_px",
        "pixel_size_x_mm",
        "pixel_size_y_mm",
    )
    tilts = [name for name in ("pitch_deg", "yaw_deg", "roll_deg") if getattr(g, name) != 0.0]
    return "sl.DetectorGeometry(" + ", ".join(f"{name}={getattr(g, name)!r}" for name in (*names, *tilts)) + ")"
