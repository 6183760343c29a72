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

from sievelight import frames, geometry, material, reduce
from sievelight._core import ATTENUATION_RELATIVE_U, DetectorGeometry, Factor
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
    corrections: dict[str, Any] = field(default_factory=dict)  # of the pixels: what the averager was made with
    darks: dict[str, Any] = field(default_factory=dict)  # name -> Frame, summed
    beams: dict[str, Loaded] = field(default_factory=dict)  # name -> exposures of the direct beam
    beam_rows: dict[str, Measurement] = field(default_factory=dict)
    dispersants: dict[str, Any] = field(default_factory=dict)  # name -> Absolute
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


def odd_shapes(loaded: dict[str, Loaded], like: str) -> dict[str, str]:
    """Shared rows whose frames are not of the shape of row `like`: name -> what is wrong."""
    rows, columns = loaded[like].exposures[0].counts.shape
    wrong = {}
    for name, item in loaded.items():
        shape = item.exposures[0].counts.shape
        if shape != (rows, columns):
            wrong[name] = (
                f"'{name}' has frames of {shape[0]} × {shape[1]} pixels, '{like}' has {rows} × {columns} (rows × columns)."
            )
    return wrong


def study_mask(settings: Settings, folder: Path, loaded: dict[str, Loaded]) -> NDArray[np.bool_]:
    """One mask for all: the drawn one, what the shared frames' files mark, and defects found in long shared exposures."""
    shapes = {name: item.exposures[0].counts.shape for name, item in loaded.items()}
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
        "sensor": _sensor(s, wavelength_nm),
        "flight_path": _flight_path(s, wavelength_nm),
        "polarization_fraction": s.instrument.polarization_fraction,
        "polarization_u": s.instrument.polarization_u,
        "polarization_plane_deg": s.instrument.polarization_plane_deg,
        "off": s.reduce.switch_off,
    }


def _sensor(s: Settings, wavelength_nm: float) -> reduce.Absorber | None:
    d = s.detector
    if d.sensor_thickness_mm is None or (d.sensor_material is None and d.sensor_attenuation_per_cm is None):
        return None
    if d.sensor_attenuation_per_cm is not None:
        return reduce.Absorber(mu_per_cm=d.sensor_attenuation_per_cm, length_mm=d.sensor_thickness_mm)
    return _foil(d.sensor_material or "", d.sensor_thickness_mm, wavelength_nm)


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


def make_averager(
    settings: Settings, g: DetectorGeometry, masked: NDArray[np.bool_], corrections: dict[str, Any]
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
    return reduce.Averager(
        pixel_map,
        edges_per_nm=edges,
        mask=masked,
        **corrections,
        blur=reduce.Blur(
            beam_fwhm_mm=s.instrument.beam_fwhm_mm,
            pixel_size_x_mm=g.pixel_size_x_mm,
            pixel_size_y_mm=g.pixel_size_y_mm,
            wavelength_spread=s.instrument.wavelength_spread,
        ),
    )


def _q_range(s: Settings, pixel_map: Any, masked: NDArray[np.bool_]) -> tuple[float, float]:
    low, high = reduce.usable_q(pixel_map, mask=masked)
    return (s.reduce.q_min_per_nm or low, s.reduce.q_max_per_nm or high)


def transmission(m: Measurement, empty: Measurement | None, shared: Shared, frames: Loaded | None) -> Any:
    """Transmission of a row: a number; from exposures of the direct beam; from the spot behind a semi-transparent
    beamstop; or from monitor intensities, each relative to the empty beam. 1 for the empty beam itself."""
    if m.role == "empty_beam":
        return reduce.given_transmission(m.name, 1.0)
    given = m.get("transmission")
    if given is not None:
        return reduce.given_transmission(m.name, given, u=m.u.get("transmission", 0.0))
    if m.reference("direct_beam"):
        return _from_beams(m, empty, shared)
    if shared.settings.reduce.transmission_from == "beamstop":
        return _from_spot(m, empty, shared, frames)
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


def beam_radius_px(settings: Settings) -> float:
    """The acceptance radius of the direct beam; it belongs to the definition of a transmission, so it is never guessed."""
    radius = settings.reduce.beam_radius_px
    if radius is None:
        raise input_error(
            "[reduce] beam_radius_px is not set.",
            "Give the radius in pixels within which a photon counts as transmitted, e.g. three times the beam's width.",
        )
    return radius


def _spots(m: Measurement, mine: Any, empty: Measurement, theirs: Any, shared: Shared, same: bool) -> Any:
    def attenuator(row: Measurement) -> tuple[float, float]:
        return (row.get("attenuator_transmission") or 1.0, row.u.get("attenuator_transmission", 0.0))

    g, c = shared.geometry, shared.corrections
    return reduce.transmission_from_frames(
        m.name,
        mine,
        empty_name=empty.name,
        empty=theirs,
        beam_center_px=(g.beam_center_x_px, g.beam_center_y_px),
        radius_px=beam_radius_px(shared.settings),
        dead_time_s=c["dead_time_s"] if mine.exposures == 1 and theirs.exposures == 1 else None,
        dead_time_model=c["dead_time_model"],
        attenuator=attenuator(m),
        empty_attenuator=attenuator(empty),
        same_attenuator=same,
    )


def _from_beams(m: Measurement, empty: Measurement | None, shared: Shared) -> Any:
    mine = m.reference("direct_beam") or ""
    theirs = empty.reference("direct_beam") if empty is not None else None
    if theirs is None:
        raise input_error(
            f"'{m.name}' (row {m.row}) names the direct beam '{mine}', but no empty_beam row names one without the sample.",
            "Give the empty_beam row its own direct_beam, or the transmission as a number.",
        )
    for name in (mine, theirs):
        if name not in shared.beams:
            raise input_error(f"the direct beam '{name}' has no result.", "Mend that row first: see its finding.")
    rows = shared.beam_rows
    same = rows[mine].get("attenuator_transmission") == rows[theirs].get("attenuator_transmission")
    first, second = shared.beams[mine].total, shared.beams[theirs].total
    named = Measurement(m.name, m.role, m.row, values=rows[mine].values, u=rows[mine].u)
    return _spots(named, first, rows[theirs], second, shared, same)


def _from_spot(m: Measurement, empty: Measurement | None, shared: Shared, frames: Loaded | None) -> Any:
    if empty is None or empty.name not in shared.beams or frames is None:
        raise input_error(
            f"the transmission of '{m.name}' (row {m.row}) needs an empty_beam row with the same beamstop.",
            "Add an empty_beam row, or give the transmission as a number.",
        )
    return _spots(m, frames.total, empty, shared.beams[empty.name].total, shared, same=True)


def sample_shape(m: Measurement, settings: Settings) -> Any:
    """The shape of a row's sample in the beam; a capillary's inner diameter is the row's thickness."""
    s = settings.sample
    if s.shape == "plate" or m.role == "standard":
        rotation = 0.0 if m.role == "standard" else s.rotation_deg
        return reduce.PlateShape(rotation_deg=rotation, walls=s.walls if m.role != "standard" else "ignore")
    diameter = m.get("thickness_mm")
    if diameter is None:
        raise input_error(
            f"'{m.name}' (row {m.row}) is in a capillary without thickness_mm.", "Give its inner diameter there."
        )
    return reduce.CapillaryShape(
        inner_diameter_mm=diameter,
        beam_width_mm=s.beam_width_mm,
        beam_offset_mm=s.beam_offset_mm,
        axis=s.capillary_axis,
    )


def powder(m: Measurement, wavelength_nm: float, settings: Settings) -> Any:
    """Mass per area of a row without thickness: weighed (mass and area) or from its composition; None where neither.

    With an apparent density the curve speaks of a volume again, unless the study asks for intensities per gram.
    """
    mass, area, composition = m.get("mass_mg"), m.get("area_mm2"), m.text.get("composition")
    per_gram = settings.sample.intensity_per == "gram"
    density = None if per_gram else m.get("apparent_density_g_per_cm3")
    weighed = None
    if mass is not None and area is not None:
        value = 0.1 * mass / area  # mg/mm2 in g/cm2
        weighed = (value, value * float(np.hypot(m.u.get("mass_mg", 0) / mass, m.u.get("area_mm2", 0) / area)))
    if weighed is None and not composition:
        return None
    return reduce.powder_mass(
        composition=composition,
        wavelength_nm=wavelength_nm,
        per_area_g_per_cm2=weighed,
        density_g_per_cm3=None if density is None else (density, m.u.get("apparent_density_g_per_cm3", 0.0)),
        name=m.name,
    )
