# SPDX-License-Identifier: GPL-3.0-or-later
"""How much of the beam a measurement lets through, from whatever its row says."""

from __future__ import annotations

from typing import Any

from sievelight import reduce
from sievelight.errors import input_error
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded
from sievelight.study.settings import Settings
from sievelight.study.shared import Shared
from sievelight.study.table import Measurement


def keep_transmission(shared: Shared, m: Measurement, findings: Findings, frames: Loaded | None) -> None:
    """Find a row's transmission and keep it in `shared`; a warning where none is known. Raises what `transmission` does."""
    t = transmission(m, shared.empty, shared, frames)
    if t is not None:
        shared.transmissions[m.name] = t
    elif m.role in ("sample", "standard", "background", "dispersant"):
        findings.add(
            "warning",
            m.name,
            "No transmission is known; 1 is used.",
            "",
            "Give transmission, or the monitor intensities of this row and of an empty_beam row.",
        )


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
