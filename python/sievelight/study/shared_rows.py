# SPDX-License-Identifier: GPL-3.0-or-later
"""From the shared rows of a table (calibrant, dark, background, empty beam, standard) to what all samples need.

A shared row that fails becomes a finding; the samples that need it say so in theirs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from sievelight import geometry, reduce
from sievelight._core import DetectorGeometry
from sievelight.errors import SIEVELIGHT_ERRORS, input_error
from sievelight.study import prepare
from sievelight.study import sample as one
from sievelight.study.findings import Findings
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement

# Roles whose frames show what samples are measured through; a flat field or a direct beam has another pattern.
BRIGHT = ("calibrant", "background", "empty_beam", "standard", "dispersant")


def where(m: Measurement, settings: Settings) -> str:
    """Table, row and files of a measurement, for its findings."""
    return f"{settings.study.measurements} row {m.row}, file {', '.join(f for f, _ in m.files)}"


def prepare_shared(
    settings: Settings, folder: Path, sound: dict[str, Measurement], findings: Findings
) -> prepare.Shared:
    """Everything the samples share. A shared row that fails becomes a finding; its samples will say so."""
    loaded: dict[str, prepare.Loaded] = {}
    for m in [m for m in sound.values() if m.role not in ("sample", "curve")]:
        try:
            loaded[m.name] = prepare.load(m, folder, settings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
            del sound[m.name]
    if not loaded:  # a study of samples alone still has a geometry and a mask
        m = next((m for m in sound.values() if m.role == "sample"), None)
        if m is None:
            raise input_error("no measurement of the study can be read.", "See the findings of the rows.")
        loaded[m.name] = prepare.load(m, folder, settings)
    bright = {n: item for n, item in loaded.items() if sound[n].role in BRIGHT} or loaded
    first_name, first = next(iter(bright.items()))
    for name, what in prepare.odd_shapes(loaded, first_name).items():
        mend = (
            "Give the frame of this detector, unbinned and not transposed; other detectors belong into other studies."
        )
        findings.add("error", name, what, where(sound[name], settings), mend)
        del loaded[name], sound[name]
    masked = prepare.study_mask(settings, folder, {n: loaded[n] for n in loaded if sound[n].role in (*BRIGHT, "dark")})
    start = prepare.nominal_geometry(settings, first.metadata, first_name, findings)
    calibrants = [m for m in sound.values() if m.role == "calibrant"]
    ring, calibration = None, {}
    if calibrants:
        m = calibrants[0]
        try:
            ring = prepare.calibrate(m, loaded[m.name], masked, start, settings)
            for warning in ring.warnings:
                findings.add("note", m.name, warning)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
            findings.add(
                "warning",
                "study",
                "The geometry is the nominal one: the calibration failed.",
                "",
                "Every size carries the nominal distance's unknown error.",
            )
    else:
        findings.add(
            "warning",
            "study",
            "The geometry is the nominal one: there is no calibrant row.",
            "",
            "Add a calibrant row, e.g. silver behenate; until then sizes carry the nominal distance's unknown error.",
        )
    g = ring.geometry if ring else start
    darks = {n: item.total for n, item in loaded.items() if sound[n].role == "dark"}
    flat = _flat_field(settings, g, sound, loaded, darks, findings)
    corrections = prepare.pixel_corrections(settings, g.wavelength_nm, first.metadata, flat, findings)
    averager = prepare.make_averager(settings, g, masked, corrections)
    shifts = []
    if ring is not None:
        shifts = reduce.geometry_shifts(geometry.geometry_components(ring), table=averager.table, geometry=g)
        shown = loaded[calibrants[0].name].total
        calibration = {
            "geometry": g,
            "counts": shown.counts,
            "masked": masked | shown.masked,
            "ring_q_per_nm": [2 * np.pi / d for d in geometry.calibrant(calibrants[0].text["material"]).d_nm],
            "lines": prepare.describe_calibration(ring, calibrants[0]),
        }
    else:
        calibration = {
            "geometry": g,
            "lines": [
                f"Nominal geometry: distance {g.distance_mm:g} mm, beam point at column {g.beam_center_x_px:g}, row {g.beam_center_y_px:g}."
            ],
        }
    shared = prepare.Shared(settings, folder, g, masked, averager, shifts, calibration)
    shared.corrections, shared.darks = corrections, darks
    shared.beam_rows = {m.name: m for m in sound.values() if m.role in ("direct_beam", "empty_beam")}
    shared.beams = {n: loaded[n] for n in shared.beam_rows if n in loaded}
    shared.normalize_by = _normalisation(settings, sound)
    _transmissions(shared, sound, loaded, findings)
    for m in [m for m in sound.values() if m.role in ("background", "empty_beam", "standard", "dispersant")]:
        try:
            shared.averaged[m.name] = one.average(shared, m, findings, loaded=loaded.get(m.name))
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
    _absolute_scale(shared, sound, findings)
    _dispersants(shared, sound, findings)
    return shared


def _flat_field(
    settings: Settings,
    g: DetectorGeometry,
    sound: dict[str, Measurement],
    loaded: dict[str, prepare.Loaded],
    darks: dict[str, Any],
    findings: Findings,
) -> Any:
    """The flat field of a study from its first row of that role, or None."""
    m = next((m for m in sound.values() if m.role == "flat_field" and m.name in loaded), None)
    if m is None:
        return None
    frame = loaded[m.name].total
    view = None
    if settings.detector.flat_field_from == "sample":
        view = geometry.pixel_map(g, *frame.counts.shape)
    return reduce.flat_field(frame, name=m.name, map=view, dark=darks.get(m.reference("dark") or ""))


def _dispersants(shared: prepare.Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    """Reduce the dispersants as their samples are, once."""
    for m in [m for m in sound.values() if m.role == "dispersant" and m.name in shared.averaged]:
        try:
            _, curve = one.absolute(shared, m, shared.averaged[m.name], findings, scale=shared.scale)
            shared.dispersants[m.name] = curve
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, shared.settings), error)


def _normalisation(settings: Settings, sound: dict[str, Measurement]) -> str:
    """By monitor where every row with beam has one, else by exposure; the study file may decide."""
    if settings.reduce.normalize_by:
        return settings.reduce.normalize_by
    lit = [m for m in sound.values() if m.role in ("sample", *BRIGHT)]
    return "monitor" if lit and all(m.get("incident_intensity") is not None for m in lit) else "exposure"


def _transmissions(
    shared: prepare.Shared, sound: dict[str, Measurement], loaded: dict[str, prepare.Loaded], findings: Findings
) -> None:
    empty = next((m for m in sound.values() if m.role == "empty_beam"), None)
    for name, m in list(sound.items()):
        if m.role in ("dark", "calibrant", "flat_field", "direct_beam"):
            continue
        try:
            frames = loaded.get(name)
            if frames is None and shared.settings.reduce.transmission_from == "beamstop" and m.role == "sample":
                frames = prepare.load(m, shared.folder, shared.settings)
            t = prepare.transmission(m, empty, shared, frames)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(name, where(m, shared.settings), error)
            del sound[name]
            continue
        if t is not None:
            shared.transmissions[name] = t
        elif m.role in ("sample", "standard", "background", "dispersant"):
            findings.add(
                "warning",
                name,
                "No transmission is known; 1 is used.",
                "",
                "Give transmission, or the monitor intensities of this row and of an empty_beam row.",
            )


def _absolute_scale(shared: prepare.Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    standards = [m for m in sound.values() if m.role == "standard" and m.name in shared.averaged]
    beam = _empty_direct_beam(shared, sound)
    wanted = shared.settings.reduce.absolute_scale_from or ("standard" if standards else "direct_beam")
    row = next(iter(standards), None) if wanted == "standard" else beam
    if row is None:
        findings.add(
            "warning",
            "study",
            "Intensities are relative: no standard gives an absolute scale.",
            "",
            "Add a row of role standard (material glassy carbon or water) with its thickness and transmission, or a "
            "direct_beam row with attenuator_transmission that the empty_beam row names.",
        )
        return
    try:
        k, words = _from_standard(shared, row, findings) if wanted == "standard" else _from_direct_beam(shared, row)
        for warning in k.warnings:
            findings.add("warning", row.name, warning)
        shared.scale = k.factor
        shared.scale_facts = {
            "factor": k.factor.value,
            "relative_u": k.relative_u,
            "chi2_per_point": k.chi2_per_point,
            "words": words,
        }
    except SIEVELIGHT_ERRORS as error:
        findings.add_error(row.name, where(row, shared.settings), error)


def _empty_direct_beam(shared: prepare.Shared, sound: dict[str, Measurement]) -> Measurement | None:
    """The direct-beam row of the empty beam, where its attenuator is known."""
    for m in sound.values():
        name = m.reference("direct_beam") if m.role == "empty_beam" else None
        if name in shared.beams and shared.beam_rows[name].get("attenuator_transmission") is not None:
            return shared.beam_rows[name]
    return None


def _from_direct_beam(shared: prepare.Shared, m: Measurement) -> tuple[Any, str]:
    g = shared.geometry
    frame = shared.beams[m.name].total
    incident = m.get("incident_intensity")
    if incident is not None:
        frame.monitor = incident * frame.exposure_s
    attenuator = (m.values["attenuator_transmission"], m.u.get("attenuator_transmission", 0.0))
    k = reduce.scale_from_direct_beam(
        m.name,
        frame,
        beam_center_px=(g.beam_center_x_px, g.beam_center_y_px),
        radius_px=prepare.beam_radius_px(shared.settings),
        attenuator=attenuator,
        by_monitor=shared.normalize_by == "monitor",
        **{key: value for key, value in shared.corrections.items() if key != "flat_field"},
    )
    words = (
        f"The absolute scale comes from the direct beam '{m.name}' behind an attenuator of transmission {attenuator[0]:.4g} "
        f"(B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800): relative standard uncertainty {100 * k.relative_u:.2f} %."
    )
    return k, words


def _from_standard(shared: prepare.Shared, m: Measurement, findings: Findings) -> tuple[Any, str]:
    material = m.text.get("material", "").replace(" ", "").lower()
    if material not in ("glassycarbon", "water"):
        raise input_error(
            f"the standard '{m.name}' (row {m.row}) is of '{m.text.get('material', '')}'; known are glassy carbon (SRM 3600) and water.",
            "Write glassy carbon or water in its column `material`.",
        )
    if m.get("thickness_mm") is None:
        raise input_error(
            f"the standard '{m.name}' (row {m.row}) has no thickness_mm.",
            "SRM 3600 is 1.055 mm thick; measure the strip used (of water: the cell's inner thickness).",
        )
    _, measured = one.absolute(shared, m, shared.averaged[m.name], findings)
    if material == "water":
        temperature = m.get("temperature_C")
        if temperature is None:
            raise input_error(
                f"the standard '{m.name}' (row {m.row}) has no temperature_C.", "Give the water's temperature."
            )
        k = reduce.absolute_scale(measured, standard=reduce.water_standard(temperature))
        source = (
            "water (G. S. Kell, J. Chem. Eng. Data 20 (1975) 97; D. Orthaber et al., J. Appl. Cryst. 33 (2000) 218)"
        )
        share = "0.32 % is that of its compressibility"
    else:
        k = reduce.absolute_scale(measured)
        source = "the glassy-carbon standard (NIST SRM 3600; A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462)"
        share = "2.58 % is the certificate's"
    words = (
        f"The absolute scale comes from {source}, '{m.name}', over {k.q_range_per_nm.low:.3g} … {k.q_range_per_nm.high:.3g} 1/nm: "
        f"relative standard uncertainty {100 * k.relative_u:.2f} %, of which {share} and common to all points; χ² per point of its shape {k.chi2_per_point:.2f}."
    )
    return k, words
