# SPDX-License-Identifier: GPL-3.0-or-later
"""What all measurements of a study share: geometry, mask, bins, corrections, and the reduced shared measurements.

The same mask and bins serve every sample, so that curves can be subtracted and compared point by point and a counting
error of a shared frame means the same in all of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import frames, geometry, reduce
from sievelight._core import DetectorGeometry, Factor
from sievelight.errors import input_error
from sievelight.study.findings import Findings
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement, parse_frames


@dataclass
class Loaded:
    """The single exposures of one measurement."""

    exposures: list[Any]  # Frame, one an exposure
    metadata: Any

    @cached_property
    def total(self) -> Any:
        """The sum of the exposures."""
        return frames.sum_frames(self.exposures)


@dataclass
class Shared:
    """Everything that the samples of a study have in common."""

    settings: Settings
    folder: Path
    geometry: DetectorGeometry
    masked: NDArray[np.bool_]
    averager: Any
    shifts: list[Any]
    calibration: dict[str, Any] = field(default_factory=dict)
    darks: dict[str, Any] = field(default_factory=dict)  # name -> Frame, summed
    averaged: dict[str, Any] = field(default_factory=dict)  # name -> Averaged of backgrounds, empty beams, standards
    transmissions: dict[str, Any] = field(default_factory=dict)
    scale: Factor | None = None
    scale_facts: dict[str, Any] = field(default_factory=dict)
    normalize_by: str = "exposure"


def load(m: Measurement, folder: Path, settings: Settings) -> Loaded:
    """Read the single exposures of a measurement, from all its files."""
    exposures: list[Any] = []
    metadata = None
    for file, chosen in m.files:
        opened = frames.open_frames(
            folder / file,
            dataset=m.text.get("dataset"),
            saturation_value=settings.detector.saturation_value,
            exposure_s=m.get("exposure_s"),
        )
        metadata = metadata or opened.metadata
        wanted = parse_frames(chosen)
        exposures += [opened.read(i) for i in (range(opened.count) if wanted is None else wanted)]
    if not exposures:
        raise input_error(f"'{m.name}' (row {m.row}) has no exposure.", "Check `frames` and `file` of that row.")
    return Loaded(exposures, metadata)


def nominal_geometry(settings: Settings, metadata: Any, name: str, findings: Findings) -> DetectorGeometry:
    """Geometry from the study file; where it is silent, from the frame's own metadata, and said so."""
    asked, taken = settings.instrument, []
    center = asked.beam_center_px or (None, None)
    size = asked.pixel_size_mm or (None, None)
    known = {
        "wavelength_nm": (asked.wavelength_nm, metadata.wavelength_nm),
        "distance_mm": (asked.distance_mm, metadata.distance_mm),
        "beam_center_x_px": (center[0], metadata.beam_center_x_px),
        "beam_center_y_px": (center[1], metadata.beam_center_y_px),
        "pixel_size_x_mm": (size[0], metadata.pixel_size_x_mm),
        "pixel_size_y_mm": (size[1], metadata.pixel_size_y_mm),
    }
    values: dict[str, float] = {}
    for key, (mine, theirs) in known.items():
        if mine is None and theirs is None:
            raise input_error(
                f"neither [instrument] nor the file of '{name}' gives {key}.",
                f"Add {key.replace('_x_px', '_px').replace('_y_px', '_px')} to [instrument] in the study file.",
            )
        values[key] = float(theirs if mine is None else mine)
        if mine is None:
            taken.append(f"{key} = {values[key]:.6g}")
    if taken:
        notes = "; ".join(metadata.notes)
        findings.add(
            "note",
            name,
            f"The study file leaves geometry open; taken from the frame's file: {', '.join(taken)}.",
            notes,
            "Check these values; [instrument] in the study file overrides them.",
        )
    return DetectorGeometry(**values, pitch_deg=asked.pitch_deg, yaw_deg=asked.yaw_deg, roll_deg=asked.roll_deg)


def calibrate(
    m: Measurement, loaded: Loaded, masked: NDArray[np.bool_], start: DetectorGeometry, settings: Settings
) -> Any:
    """Ring calibration from a calibrant row."""
    material = m.text.get("material", "")
    if not material:
        raise input_error(
            f"the calibrant '{m.name}' (row {m.row}) names no material.",
            "Write e.g. silver behenate in its column `material`.",
        )
    frame = loaded.total
    return geometry.calibrate_rings(
        frame.counts,
        start=start,
        calibrant=material,
        masked=masked | frame.masked,
        refine_tilt=settings.instrument.refine_tilt,
        beam_fwhm_mm=settings.instrument.beam_fwhm_mm,
    )


def describe_calibration(result: Any, m: Measurement) -> list[str]:
    """Sentences on a ring calibration for the report."""
    g = result.geometry
    return [
        f"Geometry refined on {result.x_px.size} points of {len(set(result.order.tolist()))} rings of {m.text.get('material', 'the calibrant')} ('{m.name}'): "
        f"distance {g.distance_mm:.2f} ± {result.u('distance_mm'):.2f} mm, beam point at column {g.beam_center_x_px:.2f} ± {result.u('beam_center_x_px'):.2f}, "
        f"row {g.beam_center_y_px:.2f} ± {result.u('beam_center_y_px'):.2f}; ring points lie {result.residual_px:.3f} px (rms) from their rings. "
        f"The calibrant's spacing carries a relative standard uncertainty of {result.calibrant_relative_u:.1e}, and with it every size."
    ]


def study_mask(settings: Settings, folder: Path, loaded: dict[str, Loaded]) -> NDArray[np.bool_]:
    """One mask for all: the drawn one, what the shared frames' files mark, and defects found in long shared exposures."""
    shapes = {name: item.exposures[0].counts.shape for name, item in loaded.items()}
    if len(set(shapes.values())) > 1:
        raise input_error(
            f"the frames of one study have different shapes: {', '.join(f'{n} {s[0]} × {s[1]}' for n, s in shapes.items())} (rows × columns).",
            "Put measurements of different detectors or regions into different studies.",
        )
    shape = next(iter(shapes.values()))
    masked = np.zeros(shape, dtype=bool)
    if settings.detector.mask:
        masked |= frames.read_mask(folder / settings.detector.mask, rows=shape[0], columns=shape[1])
    for item in loaded.values():
        for exposure in item.exposures:
            masked |= exposure.masked
    if settings.detector.find_defects:
        for item in loaded.values():
            masked |= frames.find_defects(item.total.counts, masked=masked)
    return masked


def make_averager(
    settings: Settings, g: DetectorGeometry, masked: NDArray[np.bool_], metadata: Any, findings: Findings
) -> Any:
    """The averager of a study: its bins, mask and corrections."""
    s = settings
    rows, columns = masked.shape
    pixel_map = geometry.pixel_map(g, rows, columns)
    edges = reduce.make_bins(
        pixel_map,
        mask=masked,
        bins=s.reduce.bins,
        spacing=s.reduce.spacing,
        q_range_per_nm=_q_range(s, pixel_map, masked),
    )
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
    return reduce.Averager(
        pixel_map,
        edges_per_nm=edges,
        mask=masked,
        dead_time_s=dead_time,
        dead_time_model=s.detector.dead_time_model,
        sensor=_absorber(s.detector.sensor_attenuation_per_cm, s.detector.sensor_thickness_mm),
        flight_path=_absorber(s.flight_path.air_attenuation_per_cm, s.flight_path.air_mm),
        polarization_fraction=s.instrument.polarization_fraction,
        blur=reduce.Blur(
            beam_fwhm_mm=s.instrument.beam_fwhm_mm,
            pixel_size_x_mm=g.pixel_size_x_mm,
            pixel_size_y_mm=g.pixel_size_y_mm,
            wavelength_spread=s.instrument.wavelength_spread,
        ),
    )


def _absorber(mu_per_cm: float | None, length_mm: float | None) -> tuple[float, float] | None:
    return (mu_per_cm, length_mm) if mu_per_cm and length_mm else None


def _q_range(s: Settings, pixel_map: Any, masked: NDArray[np.bool_]) -> tuple[float, float]:
    low, high = reduce.usable_q(pixel_map, mask=masked)
    return (s.reduce.q_min_per_nm or low, s.reduce.q_max_per_nm or high)


def transmission(m: Measurement, empty: Measurement | None) -> Any:
    """Transmission of a row: a number, or monitor intensities relative to the empty beam; 1 for the empty beam itself."""
    if m.role == "empty_beam":
        return reduce.given_transmission(m.name, 1.0)
    given = m.get("transmission")
    if given is not None:
        return reduce.given_transmission(m.name, given, u=m.u.get("transmission", 0.0))
    incident, transmitted = m.get("incident_intensity"), m.get("transmitted_intensity")
    if incident is None or transmitted is None:
        return None
    if empty is None or empty.get("incident_intensity") is None or empty.get("transmitted_intensity") is None:
        raise input_error(
            f"'{m.name}' (row {m.row}) gives monitor intensities, but no empty_beam row does.",
            "Add an empty_beam row with incident_intensity and transmitted_intensity, or give the transmission as a number.",
        )
    return reduce.transmission_from_monitors(
        m.name,
        incident=(incident, m.u.get("incident_intensity", 0.0)),
        transmitted=(transmitted, m.u.get("transmitted_intensity", 0.0)),
        empty_name=empty.name,
        empty_incident=(empty.values["incident_intensity"], empty.u.get("incident_intensity", 0.0)),
        empty_transmitted=(empty.values["transmitted_intensity"], empty.u.get("transmitted_intensity", 0.0)),
    )
