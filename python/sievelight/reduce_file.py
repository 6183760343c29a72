# SPDX-License-Identifier: GPL-3.0-or-later
"""The frames of one sample to its curve, without a study: the very chain of a study, for a table of a few rows.

Which one do I use, and when?

* :func:`reduce_file` for one sample, or to try a correction.
* :func:`sievelight.run_study` for more than one: what samples share is read once and cancels in their differences.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import numpy as np

from sievelight import curve as curves
from sievelight import plot
from sievelight._core import Curve, DetectorGeometry
from sievelight.errors import data_error, input_error
from sievelight.study.files import whole_file
from sievelight.study.findings import Finding, Findings
from sievelight.study.results import SampleResult
from sievelight.study.sample import reduce_sample
from sievelight.study.saved import write_curve
from sievelight.study.settings import Settings, read_settings
from sievelight.study.shared_rows import prepare_shared
from sievelight.study.table import Measurement, parse_frames

__all__ = ["ReducedFile", "reduce_file"]

PathName = str | PathLike[str]
Value = float | tuple[float, float]


@dataclass(frozen=True)
class ReducedFile:
    """A sample's curve and how it came about."""

    result: SampleResult
    geometry: DetectorGeometry
    findings: list[Finding] = field(default_factory=list)
    words: list[str] = field(default_factory=list)  # on geometry and scale

    @property
    def curve(self) -> Curve:
        """The curve, with all its causes of error."""
        return self.result.curve

    @property
    def steps(self) -> list[dict[str, Any]]:
        """Every step of the chain: name, applied, parameters, factors and relative_u at low, middle and high q."""
        return self.result.steps

    def lines(self) -> list[str]:
        """The outcome in words."""
        c = self.curve
        u = curves.total_u(c)
        unit = {"relative": "in arbitrary units", "1/cm": "in 1/cm", "cm2/g": "in cm2/g"}[c.unit]
        out = [
            f"{self.result.name}: {c.q_per_nm.size} points from q = {c.q_per_nm[0]:.4g} to {c.q_per_nm[-1]:.4g} 1/nm, {unit}"
        ]
        for k in (0, c.q_per_nm.size // 2, c.q_per_nm.size - 1):
            out.append(f"  I({c.q_per_nm[k]:.4g} 1/nm) = {c.intensity[k]:.5g} ± {u[k]:.2g}")
        out.append("steps: " + ", ".join(s["name"] for s in self.steps if s["applied"]))
        out += [f"left out: {s['name']} ({s['note']})" for s in self.steps if not s["applied"]]
        return [*out, *self.words]

    def values(self) -> dict[str, Any]:
        """All numbers under their names, for JSON."""
        c = self.curve
        return {
            "name": self.result.name,
            "unit": c.unit,
            "q_per_nm": c.q_per_nm.tolist(),
            "intensity": c.intensity.tolist(),
            "u": curves.total_u(c).tolist(),
            "pointwise_u": curves.pointwise_u(c).tolist(),
            "causes": sorted(c.causes),
            "steps": self.steps,
            "findings": [f.__dict__ for f in self.findings],
        }

    def save(self, path: PathName, *, force: bool = False) -> Path:
        """Write the curve, whole or not at all: NXcanSAS, or comma-separated values where the suffix is .csv.

        Raises InputError when the file exists and `force` is not set.
        """
        target = Path(fspath(path))
        refuse_existing(target, force)
        with whole_file(target) as temporary:
            if target.suffix.lower() == ".csv":
                curves.write_csv(temporary, self.curve)
            else:
                write_curve(temporary, self.result.name, self.geometry, self.result)
        return target

    def plot(self, ax: Any = None) -> Any:
        """Draw the curve with its 68 % band."""
        return plot.plot_curves({self.result.name: self.curve}, ax=ax)

    def save_picture(self, path: PathName) -> None:
        """Write :meth:`plot` to a file whose suffix names the format."""
        import matplotlib.pyplot as plt

        with plt.rc_context(plot.STYLE):
            ax = self.plot()
            ax.legend()
            ax.figure.savefig(fspath(path), dpi=160)
            plt.close(ax.figure)

    def __repr__(self) -> str:
        return f"<ReducedFile {self.lines()[0]}, {len(self.findings)} findings>"


def reduce_file(
    path: PathName | Sequence[PathName],
    *,
    instrument: PathName | Settings | None = None,
    background: PathName | None = None,
    dark: PathName | None = None,
    empty_beam: PathName | None = None,
    standard: PathName | None = None,
    calibrant: PathName | None = None,
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
    calibrant_material: str = "silver behenate",
    exposure_s: float | None = None,
    progress: Callable[[str], None] | None = None,
) -> ReducedFile:
    """I(q) of one sample from its frames.

    Parameters
    ----------
    path : file of frames, or several files of repeats.
    instrument : a TOML file with the sections of a study ([instrument], [detector], [mask], [flight_path], [sample],
        [reduce], ...): a study file, or what ``sievelight calibrate`` prints. Where it is silent, or absent, the frames' own
        file speaks.
    background, dark, empty_beam, standard, calibrant : files of frames. The standard gives the absolute scale and is
        measured without a cell (background: the empty beam, where given); the calibrant refines the geometry.
    mask : file of a mask, instead of the instrument's.
    frames : exposures of the sample to use, as "0-3,7"; all where empty.
    transmission, background_transmission, standard_transmission : relative to the empty beam; a number, or (value, u).
    background_scale : of the background besides; 1 where absent.
    thickness_mm : of the sample along the beam (of a capillary its inner diameter); without it the curve is relative.
    composition : for a powder without thickness: its mass per area follows from the transmission.
    standard_thickness_mm : 1.055 mm is that of SRM 3600.
    exposure_s : of one exposure, where the files do not say it.
    progress : called with a word before each step.

    Returns
    -------
    ReducedFile

    Raises
    ------
    InputError, DataError : a file or number that cannot be used: which, why, and how to mend it. What a study would list as
        a finding of severity error is raised; the others stand in ``findings``.
    """
    tell = progress or (lambda what: None)
    folder, settings = _settings(instrument)
    if mask is not None:
        settings.detector.mask = str(Path(fspath(mask)).resolve())
    paths = [path] if isinstance(path, (str, PathLike)) else list(path)
    if not paths:
        raise input_error("reduce_file: no file was given.", "Give the file of the sample's frames.")
    sample = _row("sample", name or Path(fspath(paths[0])).stem, [fspath(p) for p in paths], frames)
    rows = {sample.name: sample}

    def also(role: str, file: PathName | None, **text: str) -> Measurement | None:
        if file is None:
            return None
        row = _row(role, role.replace("_", " "), [fspath(file)], "")
        if row.name in rows:
            row.name = f"{row.name} file"
        row.text |= text
        rows[row.name] = row
        return row

    dark_row = also("dark", dark)
    background_row = also("background", background)
    empty_row = also("empty_beam", empty_beam)
    standard_row = also("standard", standard, material=standard_material)
    also("calibrant", calibrant, material=calibrant_material)
    for row in rows.values():
        if dark_row is not None and row is not dark_row:
            row.text["dark"] = dark_row.name
        if exposure_s is not None and row is sample:
            row.values["exposure_s"] = _positive("exposure_s", exposure_s)
    _give(sample, "transmission", transmission)
    _give(sample, "thickness_mm", thickness_mm)
    _give(sample, "background_scale", background_scale)
    if composition:
        sample.text["composition"] = composition
    if background_row is not None:
        sample.text["background"] = background_row.name
        _give(background_row, "transmission", background_transmission)
    if standard_row is not None:
        _give(standard_row, "transmission", standard_transmission)
        _give(standard_row, "thickness_mm", standard_thickness_mm)
        if empty_row is not None:
            standard_row.text["background"] = empty_row.name
    findings = Findings()
    tell("geometry, mask, shared frames")
    sound = dict(rows)
    shared = prepare_shared(settings, folder, sound, findings)
    _raise_first_error(findings)
    tell(sample.name)
    result = reduce_sample(shared, sample, findings)
    words = [*shared.calibration.get("lines", [])]
    if shared.scale_facts.get("words"):
        words.append(shared.scale_facts["words"])
    return ReducedFile(result, shared.seen_from(sample).geometry, findings.sorted(), words)


def refuse_existing(path: Path, force: bool) -> None:
    """InputError when a file is there and may not be written over."""
    if path.exists() and not force:
        raise input_error(f"'{path}' exists.", "Choose another name, or give --force (force=True) to write over it.")


def _settings(instrument: PathName | Settings | None) -> tuple[Path, Settings]:
    if instrument is None:
        return Path.cwd(), Settings()
    if isinstance(instrument, Settings):
        return Path.cwd(), instrument
    file = Path(fspath(instrument))
    return file.parent.resolve(), read_settings(file)


def _row(role: str, name: str, files: list[str], frames: str) -> Measurement:
    parse_frames(frames)
    row = Measurement(name=name, role=role, row=0)
    for file in files:
        absolute = Path(file).resolve()
        if not absolute.exists():
            raise data_error(f"There is no file '{file}' ({role.replace('_', ' ')}).", "Check its path.")
        row.files.append((str(absolute), frames))
    return row


def _give(row: Measurement, column: str, value: Value | None) -> None:
    if value is None:
        return
    number, u = value if isinstance(value, tuple) else (value, 0.0)
    row.values[column] = _positive(f"{column} of the {row.role.replace('_', ' ')}", number)
    if not (np.isfinite(u) and u >= 0):
        raise input_error(f"the uncertainty of {column} is {u}.", "A standard uncertainty is zero or more.")
    row.u[column] = float(u)


def _positive(what: str, value: float) -> float:
    if not (np.isfinite(value) and value > 0):
        raise input_error(f"{what} is {value:g}.", "Give a number above zero.")
    return float(value)


def _raise_first_error(findings: Findings) -> None:
    for f in findings.items:
        if f.severity == "error":
            raise input_error(f.finding.replace(" (row 0)", ""), f.mend or "Mend that input and try again.")
