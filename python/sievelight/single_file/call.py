# SPDX-License-Identifier: GPL-3.0-or-later
"""The call: from files and numbers to rows, through the chain of a study, to a curve."""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from os import PathLike, fspath
from pathlib import Path

from sievelight._core import Averaged
from sievelight.calibration import disagreements
from sievelight.errors import input_error
from sievelight.single_file.result import ReducedFile
from sievelight.single_file.rows import PathName, Rows, Value, positive
from sievelight.single_file.words import in_plain_words, plain, plain_finding
from sievelight.study.findings import Findings
from sievelight.study.loading import load
from sievelight.study.results import SampleResult
from sievelight.study.sample import average_sample, reduce_sample
from sievelight.study.settings import Settings, read_settings
from sievelight.study.shared_rows import prepare_shared
from sievelight.study.table import Measurement


def reduce_file(
    path: PathName | Sequence[PathName],
    *,
    instrument: PathName | Settings | None = None,
    background: PathName | None = None,
    dark: PathName | None = None,
    empty_beam: PathName | None = None,
    standard: PathName | None = None,
    calibrant: PathName | None = None,
    direct_beam: PathName | None = None,
    empty_direct_beam: PathName | None = None,
    background_direct_beam: PathName | None = None,
    mask: PathName | None = None,
    frames: str = "",
    name: str | None = None,
    transmission: Value | None = None,
    background_transmission: Value | None = None,
    background_scale: Value | None = None,
    thickness_mm: Value | None = None,
    composition: str | None = None,
    standard_material: str = "glassy carbon",
    standard_transmission: Value | None = None,
    standard_thickness_mm: Value = (1.055, 0.01),
    standard_temperature_C: float | None = None,
    calibrant_material: str = "silver behenate",
    attenuator_transmission: Value | None = None,
    beam_radius_px: float | None = None,
    exposure_s: float | None = None,
    progress: Callable[[str], None] | None = None,
) -> ReducedFile:
    """I(q) of one sample from its frames.

    Parameters
    ----------
    path : file of frames, or several files of repeats. A strip is a frame of one row, a counter a frame of one pixel.
    instrument : a TOML file with the sections of a study ([instrument], [detector], [mask], [flight_path], [sample],
        [reduce], ...): a study file, or what ``sievelight calibrate`` prints. Where it is silent, or absent, the frames' own
        file speaks; where both speak and disagree, the instrument file is used and a note says so.
    background, dark, empty_beam, standard, calibrant : files of frames. The standard gives the absolute scale and is
        measured without a cell (background: the empty beam, where given); the calibrant refines the geometry. One file may
        be the background and the empty beam.
    direct_beam, empty_direct_beam, background_direct_beam : frames of the attenuated direct beam through the sample, through
        nothing and through the background, for the transmissions. Such exposures go through the instrument's interlocked
        procedure, the attenuator checked first.
    attenuator_transmission : of all of them; with it the empty direct beam gives the absolute scale where no standard does.
    beam_radius_px : within which a photon counts as transmitted; never guessed. Default: [reduce] beam_radius_px.
    mask : file of a mask, instead of the instrument's.
    frames : exposures of the sample to use, of each of its files, as "0-3,7"; all where empty.
    transmission, background_transmission, standard_transmission : relative to the empty beam; a number, or (value, u).
    background_scale : of the background besides; 1 where absent.
    thickness_mm : of the sample along the beam (of a capillary its inner diameter); without it the curve is relative.
    composition : for a powder without thickness: its mass per area follows from the transmission.
    standard_thickness_mm : 1.055 mm is that of SRM 3600.  standard_temperature_C : of water.
    exposure_s : of one exposure of the sample, and of the other files that do not say it.
    progress : called with a word before each step.

    Returns
    -------
    ReducedFile

    Raises
    ------
    InputError, DataError : a file or number that cannot be used: which, why, and how to mend it. What a study would list as
        a finding of severity error is raised; the others stand in ``findings``.

    Examples
    --------
    >>> import sievelight as sl
    >>> study = sl.examples.study("invented")
    >>> done = sl.reduce_file(
    ...     study.parent / "1a.npy", instrument=study, background=study.parent / "cell.npy",
    ...     transmission=(0.4, 0.002), background_transmission=1.0, thickness_mm=1.0, exposure_s=25.0
    ... )
    >>> done.curve.unit, [step["name"] for step in done.steps if step["applied"]]
    ('relative', ['mask', 'counts', 'exposure and flux', 'solid angle', 'polarisation', 'transmission', 'background', 'self-absorption', 'thickness'])
    """
    tell = progress or (lambda what: None)
    folder, settings = _settings(instrument)
    if mask is not None:
        settings.detector.mask = str(Path(fspath(mask)).resolve())
    if beam_radius_px is not None:
        settings.reduce.beam_radius_px = positive("beam_radius_px", beam_radius_px)
    paths = [path] if isinstance(path, (str, PathLike)) else list(path)
    if not paths:
        raise input_error("reduce_file: no file was given.", "Give the file of the sample's frames.")
    _check_beams(direct_beam, background_direct_beam, empty_direct_beam, transmission, background_transmission)

    tell("looking at the files")
    table = Rows(settings)
    numbers = {"transmission": transmission, "thickness_mm": thickness_mm, "background_scale": background_scale}
    sample = table.add("sample", list(paths), name=name or Path(fspath(paths[0])).stem, frames=frames, values=numbers)
    sample.text |= {"composition": composition} if composition else {}
    empty = _empty_row(table, empty_beam, empty_direct_beam, attenuator_transmission)
    if dark is not None:
        table.add("dark", [dark])
    if background is not None and empty_beam is not None and _same(background, empty_beam):
        if background_transmission is not None:
            raise input_error(
                "the background is the empty beam, and background_transmission is given.",
                "Leave it away: the empty beam's is 1.",
            )
        sample.text["background"] = empty.name if empty else ""
    elif background is not None:
        row = table.add("background", [background], values={"transmission": background_transmission})
        sample.text["background"] = row.name
        _through(table, row, background_direct_beam, attenuator_transmission)
    _through(table, sample, direct_beam, attenuator_transmission)
    if standard is not None:
        values = {
            "transmission": standard_transmission,
            "thickness_mm": standard_thickness_mm,
            "temperature_C": standard_temperature_C,
        }
        row = table.add("standard", [standard], values=values, material=standard_material)
        if empty_beam is not None and empty is not None:
            row.text["background"] = empty.name
    if calibrant is not None:
        table.add("calibrant", [calibrant], material=calibrant_material)
    if dark is not None:
        for m in table.rows.values():
            if m.role not in ("dark", "direct_beam"):
                m.text["dark"] = next(d.name for d in table.rows.values() if d.role == "dark")
    table.check(sample)

    findings = Findings()
    for note in table.fill_exposure(sample, exposure_s):
        findings.add("note", sample.name, note)
    _say_normalisation(table, settings, sample, findings)
    tell("geometry, mask, shared frames")
    shared = in_plain_words(lambda: prepare_shared(settings, folder, dict(table.rows), findings))
    _raise_first_error(findings)
    tell(sample.name)

    def reduced() -> tuple[Averaged, SampleResult]:
        loaded = load(sample, folder, settings)
        averaged = average_sample(shared, sample, findings, loaded)
        return averaged, reduce_sample(shared, sample, findings, loaded=loaded, averaged=averaged)

    averaged, result = in_plain_words(reduced)
    who = "the calibrant says" if calibrant is not None else "[instrument] says"
    for note in disagreements(shared.geometry, table.opened[sample.name][0].metadata, who=who):
        findings.add("note", sample.name, f"{note}. The latter is used.")
    words = [plain(line) for line in shared.calibration.get("lines", [])]
    if shared.scale_facts.get("words"):
        words.append(shared.scale_facts["words"])
    told = [plain_finding(f, sample.name) for f in findings.sorted()]
    inputs = table.paths | {Path(fspath(p)).resolve() for p in (mask, instrument) if isinstance(p, (str, PathLike))}
    return ReducedFile(result, averaged, shared.seen_from(sample).geometry, told, words, frozenset(inputs))


def _settings(instrument: PathName | Settings | None) -> tuple[Path, Settings]:
    if instrument is None:
        return Path.cwd(), Settings()
    if isinstance(instrument, Settings):
        return Path.cwd(), copy.deepcopy(instrument)
    file = Path(fspath(instrument))
    return file.parent.resolve(), read_settings(file)


def _same(a: PathName, b: PathName) -> bool:
    return Path(fspath(a)).resolve() == Path(fspath(b)).resolve()


def _check_beams(
    mine: PathName | None,
    background: PathName | None,
    empty: PathName | None,
    transmission: Value | None,
    background_transmission: Value | None,
) -> None:
    """The direct beam with and without, and one source of each transmission."""
    for what, beam, given in (
        ("direct_beam", mine, transmission),
        ("background_direct_beam", background, background_transmission),
    ):
        if beam is not None and empty is None:
            raise input_error(
                f"{what} is given without empty_direct_beam.", "Give the direct beam through nothing too."
            )
        if beam is not None and given is not None:
            number = what.replace("direct_beam", "transmission")
            raise input_error(f"both {number} and {what} are given.", "Give the number or the frames.")


def _empty_row(
    table: Rows, empty_beam: PathName | None, beam: PathName | None, attenuator: Value | None
) -> Measurement | None:
    """The row of the empty beam, which names its direct beam; without frames of its own where only that was measured."""
    if empty_beam is None and beam is None:
        return None
    row = table.add("empty_beam", [] if empty_beam is None else [empty_beam])
    _through(table, row, beam, attenuator)
    return row


def _through(table: Rows, m: Measurement, beam: PathName | None, attenuator: Value | None) -> None:
    """Frames of the direct beam through what a row measures."""
    if beam is None:
        return
    name = f"direct beam of {m.name}"
    m.text["direct_beam"] = table.add(
        "direct_beam", [beam], what=name, values={"attenuator_transmission": attenuator}
    ).name


def _say_normalisation(table: Rows, settings: Settings, sample: Measurement, findings: Findings) -> None:
    """Where only some files have a monitor, none is used, and that is worth a word."""
    with_one, without = table.monitors()
    if settings.reduce.normalize_by is None and with_one and without:
        findings.add(
            "warning",
            sample.name,
            "Counts are divided by the exposure, not by the monitor, which only some files have.",
            f"a monitor: {', '.join(with_one)}; none: {', '.join(without)}",
            'Give files that all have it, or accept the exposure with normalize_by = "exposure" under [reduce].',
        )


def _raise_first_error(findings: Findings) -> None:
    for f in findings.items:
        if f.severity == "error":
            raise input_error(plain(f.finding), plain(f.mend) or "Mend that input and try again.")
