# SPDX-License-Identifier: GPL-3.0-or-later
"""What the detector and the flight path do to the counts, as the arguments of an averager; and the averager."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import material, reduce
from sievelight._core import ATTENUATION_RELATIVE_U, DetectorGeometry, PixelMap
from sievelight.study.findings import Findings
from sievelight.study.settings import Settings


def pixel_corrections(
    settings: Settings, wavelength_nm: float, metadata: Any, flat: Any, findings: Findings
) -> dict[str, Any]:
    """The corrections of the pixels, as the arguments of an averager."""
    s = settings
    dead_time = s.detector.dead_time_s
    if dead_time is None and metadata.dead_time_s is not None:
        dead_time = metadata.dead_time_s
        findings.add(
            "note",
            "study",
            f"Dead time {dead_time:.3g} s taken from the frames' file.",
            "",
            "Set [detector] dead_time_s to override it.",
        )
    return {
        "dead_time_s": dead_time,
        "dead_time_model": s.detector.dead_time_model,
        "dead_time_u_s": s.detector.dead_time_u_s,
        "flat_field": flat,
        "sensor": _sensor(s, wavelength_nm, metadata, findings),
        "flight_path": _flight_path(s, wavelength_nm),
        "polarization_fraction": s.instrument.polarization_fraction,
        "polarization_u": s.instrument.polarization_u,
        "polarization_plane_deg": s.instrument.polarization_plane_deg,
        "off": s.reduce.switch_off,
    }


def _sensor(s: Settings, wavelength_nm: float, metadata: Any, findings: Findings) -> reduce.Absorber | None:
    d = s.detector
    thickness, layer = d.sensor_thickness_mm, d.sensor_material
    if d.sensor_attenuation_per_cm is not None and thickness is not None:
        return reduce.Absorber(mu_per_cm=d.sensor_attenuation_per_cm, length_mm=thickness)
    if thickness is None and layer is None and metadata.sensor_thickness_mm and metadata.sensor_material:
        thickness, layer = metadata.sensor_thickness_mm, metadata.sensor_material
        findings.add(
            "note",
            "study",
            f"Sensor of {thickness:g} mm {layer} taken from the frames' file.",
            "",
            "Set [detector] sensor_material and sensor_thickness_mm to override it.",
        )
    if thickness is None or layer is None:
        return None
    return _foil(layer, thickness, wavelength_nm)


def _foil(name: str, length_mm: float, wavelength_nm: float, density: float = 0.0) -> reduce.Absorber:
    """A layer whose attenuation comes from tables, with their uncertainty."""
    mu = material.attenuation_per_cm(name, wavelength_nm=wavelength_nm, density_g_per_cm3=density)
    return reduce.Absorber(mu_per_cm=mu, length_mm=length_mm, relative_u=ATTENUATION_RELATIVE_U, name=name)


def _flight_path(s: Settings, wavelength_nm: float) -> list[reduce.Absorber]:
    f = s.flight_path
    path = []
    if f.air_mm and f.air_attenuation_per_cm is not None:
        path.append(reduce.Absorber(mu_per_cm=f.air_attenuation_per_cm, length_mm=f.air_mm, name=f.gas))
    elif f.air_mm:
        path.append(_foil(f.gas, f.air_mm, wavelength_nm))
    return path + [_foil(w.material, w.thickness_mm, wavelength_nm, w.density_g_per_cm3 or 0.0) for w in f.window]


def bin_edges(settings: Settings, view: PixelMap, masked: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The bins of a study, the same for all its curves."""
    s = settings.reduce
    if s.edges_per_nm is not None:
        return np.asarray(s.edges_per_nm, dtype=float)
    low, high = reduce.usable_q(view, mask=masked)
    return reduce.make_bins(
        view,
        mask=masked,
        bins=s.bins,
        spacing=s.spacing,
        q_range_per_nm=(s.q_min_per_nm or low, s.q_max_per_nm or high),
    )


def _has_width(settings: Settings) -> bool:
    slit = settings.instrument.slit
    return slit is not None and (slit.width_fwhm_mm > 0 or slit.width_profile is not None)


def make_averager(
    settings: Settings,
    g: DetectorGeometry,
    view: PixelMap,
    edges: NDArray[np.float64],
    masked: NDArray[np.bool_],
    corrections: dict[str, Any],
) -> Any:
    """The averager of one geometry: its bins, mask and corrections."""
    s = settings
    return reduce.Averager(
        view,
        edges_per_nm=edges,
        mask=masked,
        **corrections,
        sectors_deg=s.reduce.sectors_deg,
        blur=reduce.Blur(
            # A line's width is folded in with its length, once.
            beam_fwhm_mm=0.0 if _has_width(s) else s.instrument.beam_fwhm_mm,
            pixel_size_x_mm=g.pixel_size_x_mm,
            pixel_size_y_mm=g.pixel_size_y_mm,
            wavelength_spread=s.instrument.wavelength_spread,
        ),
    )
