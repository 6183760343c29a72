# SPDX-License-Identifier: GPL-3.0-or-later
"""The files and numbers of one call as the rows that a study's table would have, checked before anything is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import numpy as np

from sievelight import frames as frame_files
from sievelight.errors import data_error, input_error
from sievelight.inspect import is_whole
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement, parse_frames

PathName = str | PathLike[str]
Value = float | tuple[float, float]
LIT = ("sample", "background", "empty_beam", "standard", "calibrant")


@dataclass
class Rows:
    """The rows by name, and what their files say of themselves."""

    settings: Settings
    rows: dict[str, Measurement] = field(default_factory=dict)
    opened: dict[str, list[Any]] = field(default_factory=dict)  # name -> FrameFile, one a file
    paths: set[Path] = field(default_factory=set)

    def add(
        self,
        role: str,
        files: list[PathName],
        *,
        what: str = "",
        frames: str = "",
        name: str = "",
        values: Mapping[str, Value | None] | None = None,
        **text: str,
    ) -> Measurement:
        """A row of `role`, whose `what` (default: the role) stands in messages; numbers may be (value, u)."""
        what = what or role.replace("_", " ")
        name = name or what
        parse_frames(frames)
        m = Measurement(name=f"{name} file" if name in self.rows else name, role=role, row=0, text=dict(text))
        for file in files:
            path = Path(fspath(file)).resolve()
            if not path.exists():
                raise data_error(f"There is no file '{file}' ({what}).", "Check its path.")
            if str(path) in [known for known, _ in m.files]:
                raise input_error(f"'{file}' is given twice ({what}).", "Give each file of repeats once.")
            m.files.append((str(path), frames))
            self.opened.setdefault(m.name, []).append(self._open(path, what))
            self.paths.add(path)
        for column, value in (values or {}).items():
            _give(m, column, what, value)
        self.rows[m.name] = m
        return m

    def _open(self, path: Path, what: str) -> Any:
        file = frame_files.open_frames(path, saturation_value=self.settings.detector.saturation_value)
        if file.format == "text" and not is_whole(file):
            raise data_error(
                f"'{path}' ({what}) holds fractions, not counts: it looks like a curve that is reduced already.",
                "Give detector frames; sl.read_text_curve reads a curve, and a study takes one in a row of role curve.",
            )
        return file

    def check(self, sample: Measurement) -> None:
        """InputError where the files cannot belong together: another detector, another wavelength, a file in two roles."""
        first = self.opened[sample.name][0]
        mine = {path for path, _ in sample.files}
        for m in self.rows.values():
            if m is not sample and (twice := mine & {path for path, _ in m.files}):
                raise input_error(
                    f"'{twice.pop()}' is given as the sample and as {m.name}.", "Give each measurement its own file."
                )
            for file, (path, _) in zip(self.opened.get(m.name, []), m.files):
                if (file.rows, file.columns) != (first.rows, first.columns):
                    raise input_error(
                        f"'{path}' ({m.name}) has frames of {file.rows} × {file.columns} pixels, the sample's are "
                        f"{first.rows} × {first.columns} (rows × columns).",
                        "Give frames of the sample's detector, unbinned and not transposed.",
                    )
                ours, theirs = first.metadata.wavelength_nm, file.metadata.wavelength_nm
                # As a study: Kα1 and the mean of Kα1 and Kα2 differ by 8e-4, more than twice that is another radiation.
                if m.role in LIT and ours is not None and theirs is not None and abs(theirs / ours - 1) > 0.002:
                    raise input_error(
                        f"'{path}' ({m.name}) says a wavelength of {theirs:.6g} nm, the sample's file {ours:.6g} nm.",
                        "Give measurements at one wavelength.",
                    )

    def fill_exposure(self, sample: Measurement, exposure_s: float | None) -> list[str]:
        """The exposure given goes to the sample, and to every file that is silent; notes where it overrides one."""
        if exposure_s is None:
            return []
        value = positive("exposure_s", exposure_s)
        notes = []
        for m in self.rows.values():
            said = [f.exposures_s for f in self.opened.get(m.name, [])]
            if m is sample or any(times is None for times in said):
                m.values["exposure_s"] = value
            if m is sample:
                odd = {float(t) for times in said if times is not None for t in times if abs(t / value - 1) > 1e-3}
                if odd:
                    notes.append(
                        f"exposure_s = {value:g} s is used; the file says {', '.join(f'{t:g}' for t in sorted(odd)[:3])} s"
                    )
        return notes

    def monitors(self) -> tuple[list[str], list[str]]:
        """Which lit measurements have a monitor in their files, and which have none."""
        with_one: list[str] = []
        without: list[str] = []
        for m in self.rows.values():
            if m.role in LIT and m.files:
                known = all(file.monitors is not None for file in self.opened[m.name])
                (with_one if known else without).append(m.name)
        return with_one, without


def positive(what: str, value: float) -> float:
    """A number above zero, or an InputError that names it."""
    if not (np.isfinite(value) and value > 0):
        raise input_error(f"{what} is {value:g}.", "Give a number above zero.")
    return float(value)


def _give(row: Measurement, column: str, what: str, value: Value | None) -> None:
    if value is None:
        return
    number, u = value if isinstance(value, (tuple, list)) else (value, 0.0)
    if column == "temperature_C":
        row.values[column] = float(number)
        return
    row.values[column] = positive(f"{column} of the {what}", number)
    if not (np.isfinite(u) and u >= 0):
        raise input_error(f"the uncertainty of {column} is {u}.", "A standard uncertainty is zero or more.")
    row.u[column] = float(u)
