# SPDX-License-Identifier: GPL-3.0-or-later
"""The record of a study: what went in, what came out, and whether the same comes out again.

`check_record` answers two questions of a referee: are these still the inputs (by SHA-256, each changed one named), and
does the study give the same numbers bit for bit when it is done once more from the frames?
"""

from __future__ import annotations

import hashlib
import json
import platform
import shutil
import tempfile
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from datetime import datetime, timezone
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from sievelight._core import DetectorGeometry, __version__
from sievelight.errors import SIEVELIGHT_ERRORS, data_error
from sievelight.files import sha256
from sievelight.study.hold import is_abandoned
from sievelight.study.results import SampleResult, estimate_to_list
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement
from sievelight.text_files import read_text

if TYPE_CHECKING:
    from sievelight.study.crew import Crew

GEOMETRY = ("wavelength_nm", "distance_mm", "beam_center_x_px", "beam_center_y_px", "pixel_size_x_mm", "pixel_size_y_mm",
            "pitch_deg", "yaw_deg", "roll_deg")  # fmt: skip


def make_record(
    study: str,
    settings: Settings,
    inputs: dict[str, str],
    table: list[Measurement],
    geometry: DetectorGeometry | None,
    results: list[SampleResult],
    formats: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, Any]:
    """What record.json holds; `formats` are the added frame formats that the files were read with, and their versions."""
    return {
        "made": datetime.now(timezone.utc).strftime("%Y-%m-%d %H:%M UTC"),
        "study": study,
        "settings": msgspec.to_builtins(settings),
        "inputs": [{"file": file, "sha256": digest} for file, digest in sorted(inputs.items())],
        "measurements": [row_record(m) for m in table],
        "geometry": None if geometry is None else {name: getattr(geometry, name) for name in GEOMETRY},
        "numbers": {r.name: numbers_of(r) for r in results},
        "versions": {"sievelight": __version__, "python": platform.python_version(), "numpy": np.__version__}
        | {f"frame format '{name}'": version for name, version in sorted(formats.items())},
    }


def row_record(m: Measurement) -> dict[str, Any]:
    """A row of the table as the record and the keys of checkpoints hold it."""
    return {"name": m.name, "role": m.role, "files": m.files, "text": m.text, "values": m.values, "u": m.u}


def numbers_of(result: SampleResult) -> dict[str, str]:
    """SHA-256 of a sample's numbers by what they are: its curve, its sizes, and each quantity of its summary."""
    c = result.curve
    curve = [c.q_per_nm, c.intensity, c.private_u, *(part for name in sorted(c.causes) for part in (c.causes[name].u,))]
    found = {"curve": _digest(*curve)}
    if result.size is not None:
        found["size distribution"] = _digest(result.size.diameter_nm, result.size.q3_per_nm)
    for name, estimate in result.summary.items():
        found[name] = _digest(np.array(estimate_to_list(estimate)))
    return found


def _digest(*arrays: Any) -> str:
    digest = hashlib.sha256()
    for array in arrays:
        digest.update(np.ascontiguousarray(array, dtype="<f8").tobytes())
    return digest.hexdigest()


@dataclass
class RecordCheck:
    """What has become of a record."""

    changed: dict[str, str] = field(default_factory=dict)  # input -> what happened to it
    versions: dict[str, tuple[str, str]] = field(default_factory=dict)  # package -> (then, now), where they differ
    other_numbers: dict[str, list[str]] = field(default_factory=dict)  # sample -> what is not the same bit for bit
    same_numbers: list[str] = field(default_factory=list)  # samples whose every number is the same bit for bit

    @property
    def reproduced(self) -> bool:
        """Whether nothing changed and every number came out again."""
        return not self.changed and not self.other_numbers

    def lines(self) -> list[str]:
        """The answer in words."""
        told = [f"{file}: {what}" for file, what in self.changed.items()]
        told += [f"{package} was {then}, is {now}." for package, (then, now) in self.versions.items()]
        told += [f"'{name}': not the same bit for bit: {', '.join(what)}." for name, what in self.other_numbers.items()]
        total = len(self.same_numbers) + len(self.other_numbers)
        told.append(f"{len(self.same_numbers)} of {total} samples have the same numbers bit for bit.")
        return told


def check_record(
    record: str | Path,
    *,
    study: str | Path | None = None,
    executor: Executor | Crew | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> RecordCheck:
    """Compare the inputs of a `record.json` with those on disk, and do the study once more in a folder of its own.

    Parameters
    ----------
    record : path of the record.
    study : the study file; default: where the record's output folder belongs.
    executor, progress : as `run_study` takes them.

    Returns
    -------
    RecordCheck
        ``changed`` inputs, other ``versions``, ``other_numbers``, ``same_numbers``, and ``reproduced``.

    Raises
    ------
    DataError
        The record or its study cannot be read.

    Examples
    --------
    >>> import sievelight as sl
    >>> result = sl.run_study(sl.examples.study("invented"))
    >>> check = sl.study.check_record(result.output / "record.json")
    >>> check.reproduced, check.lines()[-1]
    (True, '4 of 4 samples have the same numbers bit for bit.')
    """
    from sievelight.study.run import run_study

    record = Path(record)
    then = _read(record)
    path = Path(study) if study is not None else _study_of(record, then)
    check = RecordCheck()
    for item in then["inputs"]:
        # The study file's own name stands in the record; it may have been renamed, and is given then.
        file = path if item["file"] == then["study"] else path.parent / item["file"]
        try:
            if sha256(file) != item["sha256"]:
                check.changed[item["file"]] = f"changed since the record was made (SHA-256 was {item['sha256'][:12]}…)."
        except SIEVELIGHT_ERRORS:
            check.changed[item["file"]] = f"cannot be read any more (SHA-256 was {item['sha256'][:12]}…)."
    for left in path.parent.glob(".again-*"):  # of a check that was killed
        if is_abandoned(left):
            shutil.rmtree(left, ignore_errors=True)
    try:
        temporary = tempfile.TemporaryDirectory(prefix=".again-", dir=path.parent)
    except OSError as error:
        raise data_error(
            f"No folder can be made beside '{path}' to do the study once more ({error.strerror}).",
            "Copy the study to where you may write, with its record, and check there.",
        ) from error
    with temporary as folder:
        again = run_study(path, executor=executor, output=folder, progress=progress)
        now = again.record
    known = {item["file"] for item in then["inputs"]} | {path.name}
    check.changed |= {i["file"]: "is new since the record was made." for i in now["inputs"] if i["file"] not in known}
    check.versions = {k: (v, now["versions"][k]) for k, v in then["versions"].items() if now["versions"].get(k) != v}
    for name in {**then["numbers"], **now["numbers"]}:
        before, after = then["numbers"].get(name, {}), now["numbers"].get(name, {})
        other = [what for what in {**before, **after} if before.get(what) != after.get(what)]
        if not before or not after:
            check.other_numbers[name] = ["it has a result in one of both only"]
        elif other:
            check.other_numbers[name] = other
        else:
            check.same_numbers.append(name)
    return check


def _read(record: Path) -> dict[str, Any]:
    text = read_text(record, "record", "Give the record.json of a study.")
    try:
        then: dict[str, Any] = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise data_error(f"'{record}' is not JSON ({error}).", "Give the record.json of a study.") from error
    missing = [key for key in ("study", "inputs", "numbers", "versions", "settings") if key not in then]
    if missing:
        raise data_error(
            f"'{record}' has no {', '.join(missing)}: it is no record of a study, or of an older version.",
            "Run the study once more; its record then holds them.",
        )
    return then


def _study_of(record: Path, then: dict[str, Any]) -> Path:
    """The study stands above the output folder, as far up as the study's own words go down."""
    folder = Path(record.resolve().parent)
    for _ in Path(then["settings"]["study"]["output"]).parts:
        folder = folder.parent
    path = folder / str(then["study"])
    if not path.is_file():
        raise data_error(f"The study '{then['study']}' of '{record}' is not at '{path}'.", "Give its path: study=...")
    return path
