# SPDX-License-Identifier: GPL-3.0-or-later
"""From the shared rows of a table (calibrant, dark, background, empty beam, standard) to what all samples need.

A shared row that fails becomes a finding; the samples that need it say so in theirs.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sievelight import geometry, reduce
from sievelight.errors import SIEVELIGHT_ERRORS, input_error
from sievelight.study import prepare
from sievelight.study import sample as one
from sievelight.study.findings import Findings
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def where(m: Measurement, settings: Settings) -> str:
    """Table, row and files of a measurement, for its findings."""
    return f"{settings.study.measurements} row {m.row}, file {', '.join(f for f, _ in m.files)}"


def prepare_shared(
    settings: Settings, folder: Path, sound: dict[str, Measurement], findings: Findings
) -> prepare.Shared:
    """Everything the samples share. A shared row that fails becomes a finding; its samples will say so."""
    loaded: dict[str, prepare.Loaded] = {}
    for m in [m for m in sound.values() if m.role in ("calibrant", "background", "empty_beam", "standard", "dark")]:
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
    bright = {n: item for n, item in loaded.items() if sound[n].role != "dark"} or loaded
    first_name, first = next(iter(bright.items()))
    masked = prepare.study_mask(settings, folder, loaded)
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
    averager = prepare.make_averager(settings, g, masked, first.metadata, findings)
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
    shared.darks = {n: item.total for n, item in loaded.items() if sound[n].role == "dark"}
    shared.normalize_by = _normalisation(settings, sound)
    _transmissions(shared, sound, findings)
    for m in [m for m in sound.values() if m.role in ("background", "empty_beam", "standard")]:
        try:
            shared.averaged[m.name] = one.average(shared, m, findings, loaded=loaded.get(m.name))
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
    _absolute_scale(shared, sound, findings)
    return shared


def _normalisation(settings: Settings, sound: dict[str, Measurement]) -> str:
    """By monitor where every row with beam has one, else by exposure; the study file may decide."""
    if settings.reduce.normalize_by:
        return settings.reduce.normalize_by
    lit = [m for m in sound.values() if m.role != "dark"]
    return "monitor" if lit and all(m.get("incident_intensity") is not None for m in lit) else "exposure"


def _transmissions(shared: prepare.Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    empty = next((m for m in sound.values() if m.role == "empty_beam"), None)
    for name, m in list(sound.items()):
        if m.role in ("dark", "calibrant"):
            continue
        try:
            t = prepare.transmission(m, empty)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(name, where(m, shared.settings), error)
            del sound[name]
            continue
        if t is not None:
            shared.transmissions[name] = t
        elif m.role in ("sample", "standard", "background"):
            findings.add(
                "warning",
                name,
                "No transmission is known; 1 is used.",
                "",
                "Give transmission, or the monitor intensities of this row and of an empty_beam row.",
            )


def _absolute_scale(shared: prepare.Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    standards = [m for m in sound.values() if m.role == "standard" and m.name in shared.averaged]
    if not standards:
        findings.add(
            "warning",
            "study",
            "Intensities are relative: no standard gives an absolute scale.",
            "",
            "Add a row of role standard (material glassy carbon) with its thickness and transmission.",
        )
        return
    m = standards[0]
    try:
        if m.text.get("material", "").replace(" ", "").lower() != "glassycarbon":
            raise input_error(
                f"the standard '{m.name}' (row {m.row}) is of '{m.text.get('material', '')}'; only glassy carbon (SRM 3600) is known.",
                "Write glassy carbon in its column `material`.",
            )
        if m.get("thickness_mm") is None:
            raise input_error(
                f"the standard '{m.name}' (row {m.row}) has no thickness_mm.",
                "SRM 3600 is 1.055 mm thick; measure the strip used.",
            )
        _, measured = one.absolute(shared, m, shared.averaged[m.name], findings)
        k = reduce.absolute_scale(measured)
        for warning in k.warnings:
            findings.add("warning", m.name, warning)
        shared.scale = k.factor
        shared.scale_facts = {
            "factor": k.factor.value,
            "relative_u": k.relative_u,
            "chi2_per_point": k.chi2_per_point,
            "words": f"The absolute scale comes from the glassy-carbon standard '{m.name}' (NIST SRM 3600; A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462) over {k.q_range_per_nm.low:.3g} … {k.q_range_per_nm.high:.3g} 1/nm: "
            f"relative standard uncertainty {100 * k.relative_u:.2f} %, of which 2.58 % is the certificate's and common to all points; χ² per point of its shape {k.chi2_per_point:.2f}.",
        }
    except SIEVELIGHT_ERRORS as error:
        findings.add_error(m.name, where(m, shared.settings), error)
