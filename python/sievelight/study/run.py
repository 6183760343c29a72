# SPDX-License-Identifier: GPL-3.0-or-later
"""Run a study: frames to curves, sizes, batches, findings and the record.

One bad measurement never stops the others. Every sample is a task of its own, done here or by any executor; its result
is on disk as soon as it exists, under a key made of everything it depends on: a second call redoes only what changed,
and a killed run goes on where it was.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import msgspec

from sievelight._core import __version__
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.files import sha256
from sievelight.frame_formats import claimed
from sievelight.study import batches
from sievelight.study.checkpoint import key_of, load_checkpoint
from sievelight.study.choices import is_priced
from sievelight.study.crew import Crew, do_all
from sievelight.study.findings import Finding, Findings
from sievelight.study.further import follow
from sievelight.study.hold import output_held
from sievelight.study.loading import where
from sievelight.study.looks import watch_looks
from sievelight.study.outputs import write_tables
from sievelight.study.record import make_record, row_record
from sievelight.study.referee import question_rows
from sievelight.study.results import SampleResult, StudyResult
from sievelight.study.saved import from_checkpoint, products_exist
from sievelight.study.series import follow_series
from sievelight.study.settings import Settings, read_settings
from sievelight.study.shared import Shared
from sievelight.study.shared_rows import places_of, prepare_shared, serving_rows
from sievelight.study.stacks import expand_stacks, leave_batches
from sievelight.study.table import MEASURED_ROLES, Measurement, read_table
from sievelight.study.task import (
    Job,
    Outcome,
    Task,
    file_stamp,
    forget,
    keep,
    landmarks,
    place_of,
    this_process,
    without_folder,
)

Progress = Callable[[int, int, str], None]
Kept = dict[str, tuple[SampleResult | None, list[Finding]]]


def run_study(
    path: str | Path,
    *,
    executor: Executor | Crew | None = None,
    output: str | Path | None = None,
    progress: Progress | None = None,
) -> StudyResult:
    """Run the study of a `study.toml` and write everything but the report (see `sievelight.report.write_report`).

    Parameters
    ----------
    path : path of the study file.
    executor : who does the samples: any `concurrent.futures.Executor`, or a crew (`LocalCrew(4)`, `cluster_crew(...)`,
        which also replace workers that die). None: this process, one sample after the other, with all its threads.
        The results are the same bit for bit, in the table's order. Workers read and write under the study's own path.
    output : folder to write into, instead of the one that the study names.
    progress : called as progress(done, total, what); samples that stand from an earlier run are not steps.

    Returns
    -------
    StudyResult, also where measurements failed: those are findings of severity "error".

    Raises
    ------
    DataError, InputError
        The study file or its table cannot be understood as a whole, or the output folder cannot be written or is
        another run's at this moment; nothing is written then.


    Examples
    --------
    >>> import sievelight as sl
    >>> result = sl.run_study(sl.examples.study("invented"))
    >>> [(pair.batch, pair.verdict) for pair in result.comparison.pairs]
    [('kiln 2', 'different')]
    >>> (result.output / "summary.csv").exists()
    True
    """
    path = Path(path)
    settings = read_settings(path)
    table = expand_stacks(read_table(path.parent / settings.study.measurements), path.parent)
    to = path.parent / settings.study.output if output is None else Path(output)
    with output_held(to) as locked:
        return _run(path, settings, table, to, executor, progress, locked)


def _run(
    path: Path,
    settings: Settings,
    table: list[Measurement],
    to: Path,
    executor: Executor | Crew | None,
    progress: Progress | None,
    locked: bool,
) -> StudyResult:
    findings = Findings()
    leave_batches(table, findings)
    samples_asked = [m for m in table if m.role in MEASURED_ROLES]
    steps = len(samples_asked) + 3
    tell = progress or (lambda done, total, what: None)

    for m in table:
        for problem, mend in m.problems:
            findings.add("error", m.name, problem, settings.study.measurements, mend)
    sound = {m.name: m for m in table if not m.problems}
    folder = Path(os.path.abspath(path.parent))
    if not locked:
        findings.add(
            "note",
            "study",
            "The output folder's file system has no locks: nothing keeps a second run of this study out of it.",
            "",
            "See that nobody else runs it meanwhile.",
        )

    tell(0, steps, "checksums of the inputs")
    stamps: dict[str, tuple[int, int]] = {}
    inputs, hashes = _hash_inputs(path, settings, list(sound.values()), findings, stamps)
    for name in [n for n in sound if n not in hashes]:
        del sound[name]

    _same_frames(list(sound.values()), hashes, findings)
    question_rows(settings, list(sound.values()), findings)
    tell(1, steps, "geometry, mask, shared frames")
    common = key_of(__version__, _relevant(settings), [(n, hashes[n], row_record(sound[n])) for n in sorted(sound) if sound[n].role not in MEASURED_ROLES],
                    [inputs[file] for file in _settings_files(settings)])  # fmt: skip
    formats = claimed([folder / f for m in sound.values() if m.role != "curve" for f, _ in m.files])
    if formats:
        common = key_of(common, formats)
    shared = None
    if any(m.role != "curve" for m in sound.values()) or not sound:
        try:
            shared = prepare_shared(settings, folder, sound, findings)
        except SIEVELIGHT_ERRORS as error:
            findings.add_error("study", path.name, error)
    if shared is not None:  # what the samples' rows decide for all of them
        common = key_of(common, shared.normalize_by, hashes.get(shared.shown_by))

    without_folder(findings, folder)
    job = Job(
        settings=settings,
        folder=folder,
        output=Path(os.path.abspath(to)),
        common=common,
        rows=serving_rows(shared, sound) if shared else {},
        places=places_of(sound.values()),
        normalize_by=shared.normalize_by if shared else "",
        landmarks=landmarks(shared),
        started_in=this_process(),
        formats=formats,
    )
    keys = {
        m.name: key_of(common, hashes[m.name], row_record(m), is_priced(settings, m, samples_asked))
        for m in samples_asked
        if m.name in sound and (shared is not None or m.role == "curve")
    }
    kept: Kept = {name: found for name, key in keys.items() if (found := _standing(job, name, key)) is not None}
    tasks = [
        Task(m, keys[m.name], is_priced(settings, m, samples_asked), tuple(stamps[file] for file, _ in m.files))
        for m in samples_asked
        if m.name in keys and m.name not in kept
    ]
    redone = _do(job, shared, tasks, executor, kept, tell)
    steps = len(tasks) + 3
    results: list[SampleResult] = []
    for m in samples_asked:
        result, own = kept.pop(m.name, (None, []))
        findings.extend(own)
        if result is not None:
            results.append(result)

    tell(steps - 1, steps, "comparison of batches")
    comparison, compared = batches.compare(results, settings, findings)
    comparison = watch_looks(to, comparison, settings, findings)
    further = follow(results, comparison, settings, findings)
    series = follow_series(results, table, settings, findings)
    result_of_all = StudyResult(
        settings=settings,
        measurements=table,
        samples=results,
        findings=findings.sorted(),
        comparison=comparison,
        compared=compared,
        quantity=settings.compare.quantity,
        output=to,
        record=make_record(path.name, settings, inputs, table, shared.geometry if shared else None, results, formats),
        calibration=shared.calibration if shared else {},
        scale=shared.scale_facts if shared else {},
        redone=[m.name for m in samples_asked if m.name in redone],
        further=further,
        series=series,
    )
    write_tables(result_of_all)
    tell(steps, steps, "tables written")
    return result_of_all


def _standing(job: Job, name: str, key: str) -> tuple[SampleResult, list[Finding]] | None:
    """A sample's result as it stands on disk under this key, with its products; else None."""
    saved = load_checkpoint(place_of(job.output, name), key)
    if saved is None:
        return None
    result, own = from_checkpoint(saved)
    return (result, own.items) if products_exist(job.output, result) else None


def _do(
    job: Job, shared: Shared | None, tasks: list[Task], executor: Executor | Crew | None, kept: Kept, tell: Progress
) -> set[str]:
    """Do the tasks, put what comes of them into `kept`, and give the names that now have a result.

    Every result is read back from its checkpoint: so a result is the same whether it was made here, elsewhere or
    yesterday, and nothing larger than a few words comes through an executor.
    """
    total, redone = len(tasks) + 3, set()
    crew = executor if executor is None or isinstance(executor, Crew) else Crew(executor)

    def finished(task: Task, outcome: Outcome) -> None:
        name, found = task.row.name, None
        if outcome.done and (found := _standing(job, name, task.key)) is None:
            mend = "Workers must write to a file system that this machine reads too, under the same path."
            what = "A worker has finished this measurement, and its files are not to be seen here."
            outcome = Outcome(name, False, (Finding("error", name, what, f"row {task.row.row}", mend),))
        if found is not None:
            redone.add(name)
        kept[name] = found or (None, list(outcome.findings))
        done[0] += 1
        tell(1 + done[0], total, name)

    done = [0]
    keep(job, shared)
    if tasks:
        tell(1, total, f"{len(tasks)} measurements" + (f", {len(kept)} stand already" if kept else ""))
    try:
        do_all(job, tasks, crew, finished)
    except BaseException:
        if crew is not None:
            crew.stop()
        raise
    finally:
        forget(job)
        if crew is not None:
            crew.close()
    return redone


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
    path: Path,
    settings: Settings,
    rows: list[Measurement],
    findings: Findings,
    stamps: dict[str, tuple[int, int]],
) -> tuple[dict[str, str], dict[str, list[str]]]:
    """SHA-256 of every input, by its path in the study, and the stamps of the files as they were before; rows with a file
    that cannot be read become findings."""
    inputs = {path.name: sha256(path), settings.study.measurements: sha256(path.parent / settings.study.measurements)}
    for file in _settings_files(settings):
        inputs[file] = sha256(path.parent / file)
    hashes: dict[str, list[str]] = {}
    for m in rows:
        try:
            for file, _ in m.files:
                if file not in stamps:
                    stamps[file] = file_stamp(path.parent / file)
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
