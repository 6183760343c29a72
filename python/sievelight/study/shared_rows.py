# SPDX-License-Identifier: GPL-3.0-or-later
"""From the shared rows of a table (calibrant, dark, background, empty beam, standard) to what all samples need.

A shared row that fails becomes a finding; the samples that need it say so in theirs.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from sievelight import frames, geometry, reduce
from sievelight._core import DetectorGeometry, PixelMap
from sievelight.errors import SIEVELIGHT_ERRORS, input_error
from sievelight.study.corrections import bin_edges, make_averager, pixel_corrections
from sievelight.study.findings import Findings
from sievelight.study.instrument import calibration_record, find_geometry, nominal_geometry, slit_of
from sievelight.study.loading import Loaded, load, where
from sievelight.study.masks import mask_by_place, odd_shapes, study_mask
from sievelight.study.reduction import absolute, average
from sievelight.study.scales import absolute_scale
from sievelight.study.settings import Settings
from sievelight.study.shared import Shared, View
from sievelight.study.table import Measurement
from sievelight.study.transmissions import keep_transmission

# Roles whose frames show what samples are measured through; a flat field or a direct beam has another pattern.
BRIGHT = ("calibrant", "background", "empty_beam", "standard", "dispersant")


def prepare_shared(
    settings: Settings,
    folder: Path,
    sound: dict[str, Measurement],
    findings: Findings,
    *,
    places: Iterable[str] | None = None,
    normalize_by: str | None = None,
) -> Shared:
    """Everything the samples share. A shared row that fails becomes a finding and leaves `sound`; its samples say so.

    places, normalize_by : what the whole table says of the changer and of monitors, where `sound` is not all of it
    (see `serving_rows`).
    """
    loaded: dict[str, Loaded] = {}
    for m in [m for m in sound.values() if m.role not in ("sample", "curve") and m.files]:
        try:
            loaded[m.name] = load(m, folder, settings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
            del sound[m.name]
    lit = {n: item for n, item in loaded.items() if sound[n].role in BRIGHT} or _a_sample(sound, folder, settings)
    first_name, first = next(iter(lit.items()))
    loaded |= lit
    for name, what in odd_shapes(loaded, first_name).items():
        mend = (
            "Give the frame of this detector, unbinned and not transposed; other detectors belong into other studies."
        )
        findings.add("error", name, what, where(sound[name], settings), mend)
        del loaded[name], sound[name]
        lit.pop(name, None)
    dark = {n: item for n, item in loaded.items() if sound[n].role == "dark"}
    masked = study_mask(settings, folder, lit | dark, samples=[n for n in lit if sound[n].role == "sample"])
    nominal = nominal_geometry(settings, first.metadata, first_name, findings)
    found = find_geometry(settings, sound, loaded, masked, nominal, findings)
    g = found.geometry
    view = geometry.pixel_map(g, *masked.shape)
    masked = mask_by_place(settings, masked, g, view, lit, findings)
    darks = {n: item.total for n, item in loaded.items() if sound[n].role == "dark"}
    flat = _flat_field(settings, view, sound, loaded, darks)
    corrections = pixel_corrections(settings, g.wavelength_nm, first.metadata, flat, findings)
    edges = bin_edges(settings, view, masked)

    def seen(at: DetectorGeometry, map: Any, components: list[Any]) -> View:
        averager = make_averager(settings, at, map, edges, masked, corrections)
        return View(at, map, averager, reduce.geometry_shifts(components, table=averager.table, geometry=at))

    shared = Shared(settings, folder, masked, seen(g, view, found.components))
    for place in sorted(set(places_of(sound.values()) if places is None else places) & set(found.offsets_mm)):
        moved, components = found.at(place)
        shared.places[place] = seen(moved, geometry.pixel_map(moved, *masked.shape), components)
    shared.slit = slit_of(settings, folder, g)
    shared.calibration = calibration_record(found, loaded, masked, shared.view.shifts)
    shared.corrections, shared.darks = corrections, darks
    shared.beam_rows = {m.name: m for m in sound.values() if m.role in ("direct_beam", "empty_beam")}
    shared.beams = {n: loaded[n] for n in shared.beam_rows if n in loaded}
    shared.empty = next((m for m in sound.values() if m.role == "empty_beam"), None)
    shared.shown_by = first_name
    shared.normalize_by = normalize_by or _normalisation(settings, folder, sound)
    _transmissions(shared, sound, loaded, findings)
    averaged_roles = ("background", "empty_beam", "standard", "dispersant")
    for m in [m for m in sound.values() if m.role in averaged_roles and m.files]:
        try:
            shared.averaged[m.name] = average(shared, m, findings, loaded=loaded.get(m.name))
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
    absolute_scale(shared, sound, findings)
    _dispersants(shared, sound, findings)
    return shared


def _a_sample(sound: dict[str, Measurement], folder: Path, settings: Settings) -> dict[str, Loaded]:
    """Where no shared row shows the detector lit, the first sample that can be read gives geometry and mask."""
    first: Exception | None = None
    for m in [m for m in sound.values() if m.role == "sample"]:
        try:
            return {m.name: load(m, folder, settings)}
        except SIEVELIGHT_ERRORS as error:
            first = first or error  # each fails again in its turn, with its finding
    raise first or input_error("no measurement of the study can be read.", "See the findings of the rows.")


def _flat_field(
    settings: Settings,
    view: PixelMap,
    sound: dict[str, Measurement],
    loaded: dict[str, Loaded],
    darks: dict[str, Any],
) -> Any:
    """The flat field of a study from its first row of that role, or None."""
    m = next((m for m in sound.values() if m.role == "flat_field" and m.name in loaded), None)
    if m is None:
        return None
    frame = loaded[m.name].total
    shines_from = view if settings.detector.flat_field_from == "sample" else None
    return reduce.flat_field(frame, name=m.name, map=shines_from, dark=darks.get(m.reference("dark") or ""))


def _dispersants(shared: Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    """Reduce the dispersants as their samples are, once."""
    for m in [m for m in sound.values() if m.role == "dispersant" and m.name in shared.averaged]:
        try:
            _, curve = absolute(shared, m, shared.averaged[m.name], findings, scale=shared.scale)
            shared.dispersants[m.name] = curve
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, shared.settings), error)


def _normalisation(settings: Settings, folder: Path, sound: dict[str, Measurement]) -> str:
    """By monitor where every row with beam has one, all in the table or all in their files; else by exposure. The study
    file may decide."""
    if settings.reduce.normalize_by:
        return settings.reduce.normalize_by
    lit = [m for m in sound.values() if m.role in ("sample", *BRIGHT)]
    in_table = [m.get("incident_intensity") is not None for m in lit]
    if any(in_table):
        return "monitor" if all(in_table) else "exposure"
    return "monitor" if lit and all(_monitored(m, folder) for m in lit) else "exposure"


def _monitored(m: Measurement, folder: Path) -> bool:
    try:
        return all(
            frames.open_frames(folder / f, dataset=m.text.get("dataset")).monitors is not None for f, _ in m.files
        )
    except SIEVELIGHT_ERRORS:
        return True  # it fails by itself, and shall not decide for the others


def _transmissions(
    shared: Shared, sound: dict[str, Measurement], loaded: dict[str, Loaded], findings: Findings
) -> None:
    """Of all rows but samples, which find theirs when their turn comes."""
    for name, m in list(sound.items()):
        if m.role in ("sample", "curve", "dark", "calibrant", "flat_field", "direct_beam"):
            continue
        try:
            keep_transmission(shared, m, findings, loaded.get(name))
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(name, where(m, shared.settings), error)
            del sound[name]


def places_of(rows: Iterable[Measurement]) -> tuple[str, ...]:
    """The places of the changer that rows name."""
    return tuple(sorted({m.text.get("position", "") for m in rows}))


def serving_rows(shared: Shared, rows: dict[str, Measurement]) -> dict[str, Measurement]:
    """The rows that `prepare_shared` needs to make the same once more: all but samples, and the one that shows the
    detector where no other does."""
    return {n: m for n, m in rows.items() if m.role not in ("sample", "curve") or n == shared.shown_by}
