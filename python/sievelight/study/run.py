# SPDX-License-Identifier: GPL-3.0-or-later
"""Run a study: frames to curves, sizes, batches, findings and the record.

One bad measurement never stops the others. Every sample's result is kept as soon as it exists, under a key made of
everything it depends on: a second call redoes only what changed, and a killed run goes on where it was.
"""

from __future__ import annotations

import platform
from collections.abc import Callable
from datetime import datetime, timezone
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from sievelight._core import __version__
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study import batches
from sievelight.study import sample as one
from sievelight.study.checkpoint import key_of, load_checkpoint, save_checkpoint
from sievelight.study.choices import is_priced, price_choices
from sievelight.study.files import safe_name, sha256
from sievelight.study.findings import Findings
from sievelight.study.further import follow
from sievelight.study.kernels import Kernels
from sievelight.study.loading import where
from sievelight.study.outputs import write_tables
from sievelight.study.ready_curve import process_curve
from sievelight.study.referee import question_rows
from sievelight.study.results import SampleResult, StudyResult
from sievelight.study.saved import from_checkpoint, products_exist, to_checkpoint, write_products
from sievelight.study.settings import Settings, read_settings
from sievelight.study.shared import Shared
from sievelight.study.shared_rows import prepare_shared
from sievelight.study.table import MEASURED_ROLES, Measurement, read_table

Progress = Callable[[int, int, str], None]


def run_study(path: str | Path, *, progress: Progress | None = None) -> StudyResult:
    """Run the study of a `study.toml` and write everything but the report (see `sievelight.report.write_report`).

    Parameters
    ----------
    path : path of the study file.
    progress : called as progress(done, total, what) before each step.

    Returns
    -------
    StudyResult, also where measurements failed: those are findings of severity "error".

    Raises
    ------
    DataError, InputError
        The study file or its table cannot be understood as a whole; nothing is written then.
    """
    path = Path(path)
    settings = read_settings(path)
    table = read_table(path.parent / settings.study.measurements)
    findings = Findings()
    samples_asked = [m for m in table if m.role in MEASURED_ROLES]
    steps = len(samples_asked) + 3
    tell = progress or (lambda done, total, what: None)

    for m in table:
        for problem, mend in m.problems:
            findings.add("error", m.name, problem, settings.study.measurements, mend)
    sound = {m.name: m for m in table if not m.problems}
    output = path.parent / settings.study.output

    tell(0, steps, "checksums of the inputs")
    inputs, hashes = _hash_inputs(path, settings, list(sound.values()), findings)
    for name in [n for n in sound if n not in hashes]:
        del sound[name]

    _same_frames(list(sound.values()), hashes, findings)
    question_rows(settings, list(sound.values()), findings)
    tell(1, steps, "geometry, mask, shared frames")
    shared = None
    if any(m.role != "curve" for m in sound.values()) or not sound:
        try:
            shared = prepare_shared(settings, path.parent, sound, findings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error("study", path.name, error)

    results: list[SampleResult] = []
    redone: list[str] = []
    kernels = Kernels()
    common = key_of(__version__, _relevant(settings), [(n, hashes[n], _row(sound[n])) for n in sorted(sound) if sound[n].role not in MEASURED_ROLES],
                    [inputs[file] for file in _settings_files(settings)])  # fmt: skip
    for number, m in enumerate(samples_asked, start=2):
        tell(number, steps, m.name)
        if m.name not in sound or (shared is None and m.role != "curve"):
            continue
        priced = is_priced(settings, m, samples_asked)
        key = key_of(common, hashes[m.name], _row(m), priced)
        place = output / "checkpoints" / f"{safe_name(m.name)}.npz"
        saved = load_checkpoint(place, key)
        result, own = from_checkpoint(saved) if saved is not None else (None, Findings())
        if result is None or not products_exist(output, result):
            own = Findings()
            try:
                if m.role == "curve" or shared is None:
                    result = process_curve(settings, path.parent, m, own, kernels=kernels)
                else:
                    result = one.process(shared, m, own, kernels=kernels)
                if priced:
                    price_choices(
                        settings, m, result, own, slit=shared.slit if shared and result.curve.has_slit() else None
                    )
            except SIEVELIGHT_ERRORS as error:
                findings.items += own.items  # what was seen before it failed often says why
                findings.add_error(m.name, where(m, settings), error)
                continue
            except Exception as error:  # a defect of ours must not cost the night's other samples
                findings.add(
                    "error",
                    m.name,
                    f"The program failed on this measurement: {type(error).__name__}: {error}",
                    where(m, settings),
                    "This is a defect of the program; please report it with this row and its file.",
                )
                continue
            geometry = shared.geometry if shared is not None and m.role != "curve" else None
            write_products(output, settings.study.title, geometry, result)
            save_checkpoint(place, key, to_checkpoint(result, own))
            redone.append(m.name)
        findings.items += own.items
        results.append(result)

    tell(steps - 1, steps, "comparison of batches")
    comparison, compared = batches.compare(results, settings, findings)
    further = follow(results, comparison, settings, findings)
    record = {
        "made": datetime.now(timezone.utc).strftime("%Y-%m-%d %H:%M UTC"),
        "study": path.name,
        "settings": msgspec.to_builtins(settings),
        "inputs": [{"file": file, "sha256": digest} for file, digest in sorted(inputs.items())],
        "measurements": [_row(m) for m in table],
        "geometry": _geometry_record(shared),
        "versions": {"sievelight": __version__, "python": platform.python_version(), "numpy": np.__version__},
    }
    result_of_all = StudyResult(
        settings=settings,
        measurements=table,
        samples=results,
        findings=findings.sorted(),
        comparison=comparison,
        compared=compared,
        quantity=settings.compare.quantity,
        output=output,
        record=record,
        calibration=shared.calibration if shared else {},
        scale=shared.scale_facts if shared else {},
        redone=redone,
        further=further,
    )
    write_tables(result_of_all)
    tell(steps, steps, "tables written")
    return result_of_all


def _row(m: Measurement) -> dict[str, Any]:
    return {"name": m.name, "role": m.role, "files": m.files, "text": m.text, "values": m.values, "u": m.u}


def _relevant(settings: Settings) -> Any:
    """What a sample's result depends on: all but the comparison, the plan, the title and the output folder."""
    content = msgspec.to_builtins(settings)
    return {k: v for k, v in content.items() if k not in ("compare", "plan", "study")}


def _settings_files(settings: Settings) -> list[str]:
    """Files that the study file itself names."""
    slit = settings.instrument.slit
    named = [settings.detector.mask, *((slit.profile, slit.width_profile) if slit else ())]
    return [file for file in named if file]


def _hash_inputs(
    path: Path, settings: Settings, rows: list[Measurement], findings: Findings
) -> tuple[dict[str, str], dict[str, list[str]]]:
    """SHA-256 of every input, by its path in the study; rows with a file that cannot be read become findings."""
    inputs = {path.name: sha256(path), settings.study.measurements: sha256(path.parent / settings.study.measurements)}
    for file in _settings_files(settings):
        inputs[file] = sha256(path.parent / file)
    hashes: dict[str, list[str]] = {}
    for m in rows:
        try:
            for file, _ in m.files:
                if file not in inputs:
                    inputs[file] = sha256(path.parent / file)
            hashes[m.name] = [inputs[file] for file, _ in m.files]
        except SIEVELIGHT_ERRORS as error:
            findings.add_error(m.name, where(m, settings), error)
    return inputs, hashes


def _same_frames(rows: list[Measurement], hashes: dict[str, list[str]], findings: Findings) -> None:
    """A finding for every row that uses the very data of an earlier one: the same bytes, data set and exposures."""
    seen: dict[tuple[str, str, str], Measurement] = {}
    for m in rows:
        for digest, (file, chosen) in zip(hashes[m.name], m.files):
            earlier = seen.setdefault((digest, chosen, m.text.get("dataset", "")), m)
            if earlier is not m:
                findings.add(
                    "warning",
                    m.name,
                    f"This row ({m.role}) uses the same frames as '{earlier.name}' ({earlier.role}).",
                    f"rows {m.row} and {earlier.row}, file {file}",
                    "Correct the file of one of them; if it is meant, their errors are taken as independent and are not.",
                )


def _geometry_record(shared: Shared | None) -> dict[str, float] | None:
    if shared is None:
        return None
    g = shared.geometry
    names = (
        "wavelength_nm",
        "distance_mm",
        "beam_center_x_px",
        "beam_center_y_px",
        "pixel_size_x_mm",
        "pixel_size_y_mm",
        "pitch_deg",
        "yaw_deg",
        "roll_deg",
    )
    return {name: getattr(g, name) for name in names}
