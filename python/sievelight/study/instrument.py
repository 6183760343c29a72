# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the detector stands: the nominal geometry and its calibration by rings."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import geometry, reduce
from sievelight._core import DetectorGeometry
from sievelight.errors import SIEVELIGHT_ERRORS, data_error, input_error
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded, where
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement
from sievelight.text_files import read_text


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


@dataclass
class Found:
    """Where the detector stands, how well that is known, and how the places of the changer differ."""

    geometry: DetectorGeometry
    ring: Any = None
    row: Measurement | None = None  # the calibrant's
    components: list[Any] = field(
        default_factory=list
    )  # independent causes, as (id, geometry moved by one sd) or alike
    offsets_mm: dict[str, tuple[float, float]] = field(default_factory=dict)  # place -> nearer to the detector, u
    lines: list[str] = field(default_factory=list)  # for the report

    def at(self, place: str) -> tuple[DetectorGeometry, list[Any]]:
        """Geometry and components of a sample at a place of the changer."""
        offset, u = self.offsets_mm[place]
        moved = geometry.with_sample_offset(self.geometry, offset)
        if self.ring is not None:
            return moved, geometry.geometry_components(self.ring, offset_mm=offset, u_offset_mm=u, position=place)
        parts = [(id, geometry.with_sample_offset(shifted, offset)) for id, shifted in self.components]
        if u:
            parts.append((f"sample plane {place}", geometry.with_sample_offset(self.geometry, offset + u)))
        return moved, parts


def find_geometry(
    settings: Settings,
    sound: dict[str, Measurement],
    loaded: dict[str, Loaded],
    masked: NDArray[np.bool_],
    nominal: DetectorGeometry,
    findings: Findings,
) -> Found:
    """The geometry of a study: rings of a calibrant; else the nominal one, with the centre of the direct beam if asked."""
    start, parts, lines = _beam_point(settings, sound, loaded, masked, nominal)
    rings = _calibrations(settings, sound, loaded, masked, start, findings)
    if rings:
        row, ring = rings[0]
        found = Found(ring.geometry, ring, row, geometry.geometry_components(ring), lines=_describe(ring, row))
        found.offsets_mm = _measured_offsets(rings, findings)
        found.lines += [
            f"Samples at place {place} stand {offset:.3f} ± {u:.3f} mm nearer to the detector than '{row.name}'."
            for place, (offset, u) in found.offsets_mm.items()
        ]
    else:
        g = start
        if u := settings.instrument.distance_u_mm:
            parts.append(("distance", g.replace(distance_mm=g.distance_mm + u)))
        found = Found(g, components=parts, lines=[_describe_nominal(g), *lines])
        if not settings.instrument.distance_u_mm:
            findings.add(
                "warning",
                "study",
                "The geometry is the nominal one: there is no calibration by rings and no distance_u_mm.",
                "",
                "Add a calibrant row, e.g. silver behenate; until then sizes carry the nominal distance's unknown error.",
            )
    found.offsets_mm |= {p.name: (p.offset_mm, p.offset_u_mm) for p in settings.instrument.position}
    return found


def _beam_point(
    settings: Settings,
    sound: dict[str, Measurement],
    loaded: dict[str, Loaded],
    masked: NDArray[np.bool_],
    nominal: DetectorGeometry,
) -> tuple[DetectorGeometry, list[Any], list[str]]:
    """The nominal geometry, with the beam point of a spot where the study asks for it, and what is uncertain in it."""
    i = settings.instrument
    if i.beam_center_from is None:
        u = i.beam_center_u_px
        g = nominal
        if not u:
            return g, [], []
        x, y = g.beam_center_x_px + u, g.beam_center_y_px + u
        return (
            g,
            [
                ("beam centre, column", g.replace(beam_center_x_px=x)),
                ("beam centre, row", g.replace(beam_center_y_px=y)),
            ],
            [],
        )
    role = "direct_beam" if i.beam_center_from == "direct_beam" else "empty_beam"
    row = next((m for m in sound.values() if m.role == role and m.name in loaded), None)
    if row is None:
        raise input_error(
            f"[instrument] beam_center_from = '{i.beam_center_from}', but no {role} row can be read.",
            f"Add a row of role {role}, or give beam_center_px.",
        )
    frame = loaded[row.name].total
    spot = geometry.beam_spot(
        frame.counts,
        masked=frame.masked if role == "empty_beam" else frame.masked | masked,
        near_px=(nominal.beam_center_x_px, nominal.beam_center_y_px),
        radius_px=settings.reduce.beam_radius_px or 0.0,
    )
    g = nominal.replace(beam_center_x_px=spot.x_px, beam_center_y_px=spot.y_px)
    variance, axes = np.linalg.eigh(np.asarray(spot.covariance_px2))
    parts = []
    for k in range(2):
        dx, dy = axes[:, k] * float(np.sqrt(max(variance[k], 0.0)))
        moved = g.replace(beam_center_x_px=spot.x_px + dx, beam_center_y_px=spot.y_px + dy)
        parts.append((f"beam centre {k + 1}", moved))
    u_px = np.sqrt(np.diag(spot.covariance_px2))
    line = (
        f"The beam point comes from the spot of '{row.name}': column {spot.x_px:.3f} ± {u_px[0]:.3f}, row {spot.y_px:.3f} ± {u_px[1]:.3f}; "
        f"full widths at half maximum {spot.fwhm_x_px:.2f} and {spot.fwhm_y_px:.2f} px."
    )
    return g, parts, [line]


def _calibrations(
    settings: Settings,
    sound: dict[str, Measurement],
    loaded: dict[str, Loaded],
    masked: NDArray[np.bool_],
    start: DetectorGeometry,
    findings: Findings,
) -> list[tuple[Measurement, Any]]:
    done = []
    for m in [m for m in sound.values() if m.role == "calibrant" and m.name in loaded]:
        try:
            ring = calibrate(m, loaded[m.name], masked, start, settings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
            continue
        for warning in ring.warnings:
            findings.add("note", m.name, warning)
        done.append((m, ring))
    return done


def _measured_offsets(rings: list[tuple[Measurement, Any]], findings: Findings) -> dict[str, tuple[float, float]]:
    """Offsets of the places where further calibrants stood, from the place of the first."""
    first, reference = rings[0]
    offsets: dict[str, tuple[float, float]] = {}
    for m, ring in rings[1:]:
        place = m.text.get("position", "")
        if not place or place == first.text.get("position", "") or place in offsets:
            findings.add(
                "note",
                m.name,
                f"This calibrant is not used: only the first at a place ('{first.name}') gives the geometry.",
                "",
                "Give it another `position` to learn how far that place stands from the first.",
            )
            continue
        both = geometry.sample_plane_offsets([reference, ring])
        offsets[place] = (float(both.offset_mm[1]), float(both.u_mm(1)))
    return offsets


def slit_of(settings: Settings, folder: Path, g: DetectorGeometry) -> Any:
    """The profile of a line-shaped beam in q, or None for a point."""
    s = settings.instrument.slit
    if s is None:
        return None
    trapezoid: dict[str, Any] = {} if s.profile else {"half_top_mm": s.half_top_mm, "half_base_mm": s.half_base_mm}
    return reduce.slit_profile(
        **trapezoid,
        length_profile=_profile(folder / s.profile) if s.profile else None,
        width_fwhm_mm=0.0 if s.width_profile else s.width_fwhm_mm,
        width_profile=_profile(folder / s.width_profile) if s.width_profile else None,
        distance_mm=g.distance_mm,
        wavelength_nm=g.wavelength_nm,
    )


def _profile(path: Path) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A measured profile: a text file with the columns position_mm, weight."""
    try:
        rows = read_text(path, "beam profile", "Check its path.", most_bytes=1 << 22).splitlines()
        table = [[float(x) for x in row.replace(",", " ").split()] for row in rows[1:] if row.strip()]
        values = np.array(table, dtype=float)
        if not np.isfinite(values).all():
            raise ValueError("a number is not finite")
        if values.ndim != 2 or values.shape[1] != 2 or rows[0].replace(" ", "") != "position_mm,weight":
            raise ValueError("not two columns under the header position_mm,weight")
    except (OSError, ValueError, IndexError) as error:
        raise data_error(
            f"the beam profile '{path.name}' cannot be used: {error}.",
            "Give a text file whose first line is position_mm,weight and then two numbers a line.",
        ) from error
    return values[:, 0], values[:, 1]


def calibration_record(
    found: Found, loaded: dict[str, Loaded], masked: NDArray[np.bool_], shifts: list[Any]
) -> dict[str, Any]:
    """What the report shows of the geometry; the uncertainty of q at the ends and the middle of the bins."""
    record: dict[str, Any] = {"geometry": found.geometry, "lines": list(found.lines)}
    if found.ring is not None and found.row is not None:
        shown = loaded[found.row.name].total
        record |= {
            "counts": shown.counts,
            "masked": masked | shown.masked,
            "ring": found.ring,
        }
    if shifts:
        edges = shifts[0].edges_per_nm
        q = (edges[:-1] + edges[1:]) / 2
        u = reduce.q_u_per_nm(shifts)
        at = (0, len(q) // 2, len(q) - 1)
        record["q_relative_u"] = [[float(q[k]), float(u[k] / q[k])] for k in at]
        record["lines"].append(
            "q itself has a standard uncertainty common to all curves: "
            + ", ".join(f"{100 * u[k] / q[k]:.2g} % at {q[k]:.3g} 1/nm" for k in at)
            + "."
        )
    return record


def _describe_nominal(g: DetectorGeometry) -> str:
    return f"Nominal geometry: distance {g.distance_mm:g} mm, beam point at column {g.beam_center_x_px:g}, row {g.beam_center_y_px:g}."


def _describe(result: Any, m: Measurement) -> list[str]:
    """Sentences on a ring calibration for the report."""
    g = result.geometry

    def known(name: str, value: float) -> str:
        return f"{value:.2f} ± {result.u(name):.2f}" if name in result.parameters else f"{value:g} (not refined)"

    return [
        f"Geometry refined on {result.x_px.size} points of {len(set(result.order.tolist()))} rings of {m.text.get('material', 'the calibrant')} ('{m.name}'): "
        f"distance {known('distance_mm', g.distance_mm)} mm, beam point at column {known('beam_center_x_px', g.beam_center_x_px)}, "
        f"row {known('beam_center_y_px', g.beam_center_y_px)}; ring points lie {result.residual_px:.3f} px (rms) from their rings. "
        f"The calibrant's spacing carries a relative standard uncertainty of {result.calibrant_relative_u:.1e}, and with it every size."
    ]
