# SPDX-License-Identifier: GPL-3.0-or-later
"""One sample as a task that any worker can do: it reads its frames, writes its products and checkpoint, and answers
in a few words.

What a task carries is small (settings, the shared rows, its own row). What the samples share holds objects of the core
that do not travel; each process prepares it once from the same rows and keeps it for the tasks that follow.
"""

from __future__ import annotations

import math
import os
import platform
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from sievelight._core import __version__
from sievelight.errors import SIEVELIGHT_ERRORS, data_error, input_error
from sievelight.files import flush_folder, safe_name
from sievelight.frame_formats import require_same
from sievelight.study import sample as one
from sievelight.study.checkpoint import save_checkpoint
from sievelight.study.choices import price_choices
from sievelight.study.findings import Finding, Findings
from sievelight.study.kernels import Kernels
from sievelight.study.loading import where
from sievelight.study.ready_curve import process_curve
from sievelight.study.saved import to_checkpoint, write_products
from sievelight.study.settings import Settings
from sievelight.study.shared import Shared
from sievelight.study.shared_rows import prepare_shared
from sievelight.study.table import Measurement

KEPT = 2  # studies whose shared part a process keeps; one of a megapixel detector is some hundred megabytes


def this_process() -> str:
    """Host and process, so that a task knows whether it runs where the study was started."""
    return f"{platform.node()}:{os.getpid()}"


@dataclass(frozen=True)
class Job:
    """What all tasks of one run of a study have in common; it pickles into a few kilobytes."""

    settings: Settings
    folder: Path  # absolute, as a worker may have been started elsewhere
    output: Path
    common: str  # digest of all that the samples share
    rows: dict[str, Measurement] = field(default_factory=dict)  # the rows that the shared part is made of
    places: tuple[str, ...] = ()  # of the changer, of all rows
    normalize_by: str = ""
    landmarks: dict[str, float] | None = None  # of the shared part as the study's own process made it; None: no frames
    started_in: str = ""
    formats: dict[str, str] = field(
        default_factory=dict
    )  # added frame formats that its files need, with their versions
    version: str = __version__


@dataclass(frozen=True)
class Task:
    """One sample: its row, the key of its checkpoint, and whether other choices are priced."""

    row: Measurement
    key: str
    priced: bool = False
    stamps: tuple[tuple[int, int], ...] = ()  # of its files, when their checksums were taken


@dataclass(frozen=True)
class Outcome:
    """What became of a task. The findings are those of a measurement without a result; a result's are with it."""

    name: str
    done: bool
    findings: tuple[Finding, ...] = ()


@dataclass
class Prepared:
    """What a process keeps for the samples of a study."""

    shared: Shared | None
    kernels: Kernels = field(default_factory=Kernels)


_kept: OrderedDict[tuple[str, str], Prepared] = OrderedDict()
_lock = threading.Lock()


def keep(job: Job, shared: Shared | None) -> None:
    """Let this process do tasks with what it has prepared already."""
    with _lock:
        _keep(job, Prepared(shared))


def forget(job: Job) -> None:
    """Free what this process kept for a study."""
    with _lock:
        _kept.pop((job.common, str(job.folder)), None)


def _keep(job: Job, prepared: Prepared) -> None:
    _kept[job.common, str(job.folder)] = prepared
    while len(_kept) > KEPT:
        _kept.popitem(last=False)


def _prepared(job: Job) -> Prepared:
    key = (job.common, str(job.folder))
    with _lock:  # threads of one worker wait for the first of them
        if key not in _kept:
            if job.started_in != this_process():
                # One of many workers on the machine: the cores are shared out already.
                os.environ.setdefault("SIEVELIGHT_THREADS", "1")
            _keep(job, Prepared(_prepare_here(job)))
        _kept.move_to_end(key)
        return _kept[key]


def _prepare_here(job: Job) -> Shared | None:
    if job.version != __version__:
        raise input_error(
            f"the worker on {platform.node()} runs sievelight {__version__}, the study was started with {job.version}.",
            "Install the same version on all machines; mixed numbers help nobody.",
        )
    if job.landmarks is None:
        return None
    require_same(job.formats, where=f"the worker on {platform.node()}")
    shared = prepare_shared(
        job.settings, job.folder, dict(job.rows), Findings(), places=job.places, normalize_by=job.normalize_by
    )
    ours = landmarks(shared) or {}
    # Other machines may round the last digits otherwise; a file that is missing or another is far more than that.
    other = [
        name
        for name in {**job.landmarks, **ours}
        if not math.isclose(job.landmarks.get(name, math.nan), ours.get(name, math.nan), rel_tol=1e-6, abs_tol=1e-9)
    ]
    if other:
        raise input_error(
            f"the worker on {platform.node()} sees other shared measurements than the study's own machine "
            f"({', '.join(sorted(other)[:4])}).",
            "Give all machines the same files under the same path, on a file system that they share.",
        )
    return shared


def landmarks(shared: Shared | None) -> dict[str, float] | None:
    """Numbers by which two processes see that they have prepared the same."""
    if shared is None:
        return None
    g = shared.geometry
    found = {
        "distance": g.distance_mm,
        "wavelength": g.wavelength_nm,
        "beam column": g.beam_center_x_px,
        "beam row": g.beam_center_y_px,
        "mask": float(shared.masked.sum()),
        "scale": shared.scale.value if shared.scale is not None else 0.0,
    }
    found |= {f"'{name}'": float(np.nansum(a.curve.intensity)) for name, a in shared.averaged.items()}
    found |= {f"dispersant '{name}'": float(np.nansum(c.intensity)) for name, c in shared.dispersants.items()}
    return found


def run_task(job: Job, task: Task) -> Outcome:
    """Do one sample. Whatever goes wrong with it becomes its findings; nothing is raised."""
    own, m = Findings(), task.row
    try:
        prepared = _prepared(job)
        shared = None if m.role == "curve" else prepared.shared
        if shared is None:
            result = process_curve(job.settings, job.folder, m, own, kernels=prepared.kernels)
        else:
            result = one.process(shared, m, own, kernels=prepared.kernels)
        if task.priced:
            slit = prepared.shared.slit if prepared.shared is not None and result.curve.has_slit() else None
            price_choices(job.settings, m, result, own, slit=slit)
        without_folder(own, job.folder)
        geometry = shared.geometry if shared is not None else None
        _same_still(job, task)
        # From here until its checkpoint stands the sample is not done. An older checkpoint must not vouch for newer files:
        # whoever brings the older inputs back would find it valid.
        _withdraw(place_of(job.output, m.name))
        write_products(job.output, job.settings.study.title, geometry, result)
        save_checkpoint(place_of(job.output, m.name), task.key, to_checkpoint(result, own))
    except SIEVELIGHT_ERRORS as error:
        own.add_error(m.name, where(m, job.settings), error)  # beside what was seen before: it often says why
    except Exception as error:  # a defect of ours must not cost the night's other samples
        own.add(
            "error",
            m.name,
            f"The program failed on this measurement: {type(error).__name__}: {error}",
            where(m, job.settings),
            "This is a defect of the program; please report it with this row and its file.",
        )
    else:
        return Outcome(m.name, True)
    without_folder(own, job.folder)
    return Outcome(m.name, False, tuple(own.items))


def file_stamp(path: Path) -> tuple[int, int]:
    """Size and time of change of a file, by which a change during a run is seen; zeros for one that is gone."""
    try:
        seen = os.stat(path)
    except OSError:
        return 0, 0
    return seen.st_size, seen.st_mtime_ns


def _same_still(job: Job, task: Task) -> None:
    """Refuse a result whose files changed since their checksums were taken: it would stand under another's key."""
    for (file, _), before in zip(task.row.files, task.stamps):
        now = file_stamp(job.folder / file)
        if now not in (before, (0, 0)):  # one that is gone by now had been read
            raise data_error(
                f"The file '{file}' was changed while the study ran.",
                "Run again when it is complete; nothing of this measurement was written.",
            )


def _withdraw(checkpoint: Path) -> None:
    try:
        checkpoint.unlink()
    except FileNotFoundError:
        return
    except OSError as error:
        raise data_error(
            f"'{checkpoint}' cannot be replaced ({error.strerror}).", "Check the rights on the output folder."
        ) from error
    flush_folder(checkpoint.parent)


def place_of(output: Path, name: str) -> Path:
    """Where a sample's checkpoint stands."""
    return output / "checkpoints" / f"{safe_name(name)}.npz"


def without_folder(findings: Findings, folder: Path) -> None:
    """Name files by their path in the study: findings are for people, and machines' paths are nobody's business."""
    prefix = f"{folder}{os.sep}"
    findings.items = [
        Finding(f.severity, f.measurement, *(text.replace(prefix, "") for text in (f.finding, f.evidence, f.mend)))
        for f in findings.items
    ]
