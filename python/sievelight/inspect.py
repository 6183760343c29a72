# SPDX-License-Identifier: GPL-3.0-or-later
"""What does this file hold, and how was it understood?

:func:`inspect_file` looks at any file that the package reads: detector frames (HDF5/NeXus, TIFF, CBF, NPY, strips of text),
reduced curves (NXcanSAS, canSAS XML, text), masks, and study files. It gives one small object that shows itself in a
notebook, prints itself, draws itself with ``.plot()`` and turns into plain numbers with ``.to_dict()``. Every assumption
that was made while reading stands in ``notes``.
"""

from __future__ import annotations

import html
import math
import re
from dataclasses import dataclass, field
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sievelight import curve as curves
from sievelight import frames
from sievelight.errors import DataError, InputError, data_error
from sievelight.text_files import read_toml

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["InspectedFile", "inspect_file"]

Rows = list[tuple[str, str]]
PERCENTILES = (1, 50, 99, 99.9)
# What count_rules.hpp says of the numbers that it masks.
_REASONS = {
    r"(\d+) numbers at or above the saturation value": "saturated",
    r"(\d+) markers of gaps or defects": "markers",
    r"(\d+) numbers that are not finite": "not finite",
}
_METADATA = (
    ("wavelength", "wavelength_nm", "nm"),
    ("wavelength spread", "wavelength_spread", ""),
    ("distance", "distance_mm", "mm"),
    ("beam point column", "beam_center_x_px", "px"),
    ("beam point row", "beam_center_y_px", "px"),
    ("pixel width", "pixel_size_x_mm", "mm"),
    ("pixel height", "pixel_size_y_mm", "mm"),
    ("pitch", "pitch_deg", "deg"),
    ("yaw", "yaw_deg", "deg"),
    ("roll", "roll_deg", "deg"),
    ("saturation value", "saturation_value", "counts"),
    ("dead time", "dead_time_s", "s"),
    ("sensor material", "sensor_material", ""),
    ("sensor thickness", "sensor_thickness_mm", "mm"),
    ("sample", "sample_name", ""),
)


@dataclass(frozen=True, repr=False)
class InspectedFile:
    """What a file holds.

    ``kind`` is "frames", "curves", "mask" or "study"; ``facts`` are plain numbers and words by name, with the unit in the
    name; ``rows`` the same for people, ``notes`` what was assumed. ``frame``, ``curves`` or ``mask`` hold what was read.
    """

    path: str
    kind: str
    facts: dict[str, Any]
    rows: Rows
    notes: list[str]
    frame: Any = field(default=None, compare=False)
    curves: list[Any] = field(default_factory=list, compare=False)
    mask: NDArray[np.bool_] | None = field(default=None, compare=False)

    def __repr__(self) -> str:
        width = max(len(name) for name, _ in self.rows)
        lines = [f"<InspectedFile {Path(self.path).name}: {self.kind}>"]
        lines += [f"  {name:<{width}}  {value}" for name, value in self.rows]
        return "\n".join(lines + [f"  note: {note}" for note in self.notes])

    def _repr_html_(self) -> str:
        cells = "".join(
            f"<tr><th style='text-align:left'>{html.escape(name)}</th>"
            f"<td style='text-align:left'>{html.escape(value)}</td></tr>"
            for name, value in self.rows
        )
        notes = "".join(f"<li>{html.escape(note)}</li>" for note in self.notes)
        title = f"<caption>{html.escape(Path(self.path).name)}: {self.kind}</caption>"
        return f"<table>{title}{cells}</table>" + (f"<ul>{notes}</ul>" if notes else "")

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers, words and lists, for JSON."""
        return {"file": self.path, "kind": self.kind, **self.facts, "notes": list(self.notes)}

    def plot(self, *, ax: Axes | None = None) -> Axes:
        """Draw it: a frame on a log scale with its mask hatched, a strip as a line, curves on log axes with their bands.

        Raises InputError for a study, of which there is nothing to draw.
        """
        from sievelight import plot

        title = Path(self.path).name
        if self.kind == "frames":
            if self.frame.counts.shape[0] == 1:
                return plot.plot_strip(self.frame.counts[0], self.frame.masked[0], ax=ax, title=title)
            m = self.frame.metadata
            beam = None if m.beam_center_x_px is None else (m.beam_center_x_px, m.beam_center_y_px)
            return plot.plot_frame(self.frame.counts, self.frame.masked, beam_center_px=beam, ax=ax, title=title)
        if self.kind == "mask":
            return plot.plot_frame(np.ones(self.mask.shape), self.mask, ax=ax, title=title)  # type: ignore[union-attr]
        if self.kind == "curves":
            return plot.plot_curves({c.name: c.curve for c in self.curves}, ax=ax)
        raise InputError("there is nothing to draw in a study file.\nRun the study and look at its report.")


def _number(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _inspect_frames(file: Any, path: str) -> InspectedFile:
    total = file.read_sum()
    m = total.metadata
    seen = total.counts[~total.masked]
    percentiles = dict(zip(PERCENTILES, np.percentile(seen, PERCENTILES).tolist()))
    masked = {"pixels": int(np.count_nonzero(total.masked))}
    for note in m.notes:
        for pattern, reason in _REASONS.items():
            if match := re.match(pattern, note):
                masked[f"{reason} (numbers in all exposures)"] = int(match.group(1))
    if file.format == "HDF5":
        try:
            own = frames.read_mask(path, rows=file.rows, columns=file.columns)
            masked["pixel_mask of the file"] = int(np.count_nonzero(own))
        except DataError:
            pass
    exposures = None if file.exposures_s is None else np.asarray(file.exposures_s).tolist()
    metadata = {name: getattr(m, name) for _, name, _ in _METADATA if getattr(m, name) is not None}
    facts: dict[str, Any] = {
        "format": file.format,
        "dataset": file.dataset or None,
        "exposures": file.count,
        "rows": file.rows,
        "columns": file.columns,
        "stored_type": file.stored_type,
        "compression": file.filters,
        "exposures_s": exposures,
        "monitors": None if file.monitors is None else np.asarray(file.monitors).tolist(),
        "total_counts": float(seen.sum()),
        "highest_counts": float(seen.max()),
        "percentiles": percentiles,
        "masked": masked,
        "metadata": metadata,
        "countrate_correction_applied": m.countrate_correction_applied,
        "flatfield_applied": m.flatfield_applied,
    }
    shape = "strip" if file.rows == 1 and file.columns > 1 else "counter" if file.columns == 1 else "frame"
    times = "not known" if exposures is None else f"{sum(exposures):g} s in all"
    if exposures and len(set(exposures)) == 1:
        times = f"{exposures[0]:g} s each"
    rows: Rows = [
        ("format", " ".join(filter(None, (file.format, file.dataset)))),
        ("holds", f"{file.count} x {shape} of {file.rows} x {file.columns} (rows x columns), {file.stored_type}"),
        ("compression", file.filters),
        ("exposure", times),
        ("counts in all", f"{seen.sum():.6g}, highest {seen.max():.6g} (sum of the exposures)"),
        ("percentiles", ", ".join(f"{p:g} %: {value:.4g}" for p, value in percentiles.items())),
        ("masked", ", ".join(f"{name}: {n}" for name, n in masked.items())),
    ]
    if file.monitors is not None:
        rows.insert(4, ("monitor", f"{np.sum(file.monitors):.6g} in all"))
    rows += [
        (label, f"{_number(metadata[name])} {unit}".strip()) for label, name, unit in _METADATA if name in metadata
    ]
    if m.countrate_correction_applied or m.flatfield_applied:
        done = [
            w for w, on in (("dead time", m.countrate_correction_applied), ("flat field", m.flatfield_applied)) if on
        ]
        rows.append(("already corrected", ", ".join(done)))
    return InspectedFile(path, "frames", facts, rows, list(m.notes), frame=total)


def _inspect_curves(named: list[Any], path: str, notes: list[str]) -> InspectedFile:
    facts: list[dict[str, Any]] = []
    rows: Rows = []
    for n in named:
        c = n.curve
        low, high = float(c.q_per_nm[0]), float(c.q_per_nm[-1])
        causes = {name: str(cause.kind) for name, cause in c.causes.items()}
        facts.append(
            {
                "name": n.name,
                "points": len(c.q_per_nm),
                "q_low_per_nm": low,
                "q_high_per_nm": high,
                "unit": c.unit,
                "has_uncertainty": n.has_uncertainty,
                "causes": causes,
                "sizes_nm": [math.pi / high, math.pi / low],
            }
        )
        spread = f"causes of error: {', '.join(['counts', *causes])}" if n.has_uncertainty else "no uncertainties"
        rows.append((n.name, f"{len(c.q_per_nm)} points, q {low:.4g} to {high:.4g} 1/nm, I in {c.unit}, {spread}"))
        notes = notes + [f"{n.name}: {note}" for note in n.info.notes]
    return InspectedFile(path, "curves", {"curves": facts}, rows, notes, curves=named)


def _mask_shape(path: str) -> tuple[int, int]:
    """Rows and columns of a mask: reading it as another shape is refused with its own."""
    try:
        frames.read_mask(path, rows=1, columns=1)
    except DataError as error:
        match = re.search(r" is (?:1 x )?(\d+) x (\d+), the frames are", error.problem)
        if match is None:
            raise
        return int(match.group(1)), int(match.group(2))
    return 1, 1


def _inspect_mask(path: str) -> InspectedFile:
    rows, columns = _mask_shape(path)
    mask = frames.read_mask(path, rows=rows, columns=columns)
    masked = int(np.count_nonzero(mask))
    facts = {"rows": rows, "columns": columns, "masked_pixels": masked}
    words = f"{masked} of {mask.size} pixels ({100 * masked / mask.size:.3g} %)"
    return InspectedFile(
        path,
        "mask",
        facts,
        [("holds", f"a mask of {rows} x {columns} (rows x columns)"), ("masked", words)],
        [],
        mask=mask,
    )


def _inspect_study(path: str) -> InspectedFile:
    content = read_toml(Path(path), "study file", "Check the path.")
    study = content.get("study")
    if not isinstance(study, dict):
        raise data_error(f"'{path}' has no [study] table.", "Is it a study file? It begins with [study].")
    table = Path(path).parent / str(study.get("measurements", "measurements.csv"))
    facts = {"title": study.get("title"), "measurements": str(study.get("measurements")), "sections": sorted(content)}
    rows: Rows = [
        ("title", str(study.get("title", "none"))),
        ("measurement table", f"{table.name}{'' if table.is_file() else ' (missing)'}"),
        ("sections", ", ".join(sorted(content))),
    ]
    return InspectedFile(path, "study", facts, rows, [])


def _text_curve(path: str) -> InspectedFile:
    try:
        return _inspect_curves([curves.read_text_curve(path)], path, [])
    except InputError:  # its header names no units
        pass
    named = curves.read_text_curve(path, q_unit="1/nm", intensity_unit="relative")
    return _inspect_curves([named], path, ["columns of text have no units: q taken as 1/nm, intensity as relative"])


def is_whole(file: Any) -> bool:
    try:
        counts = file.read(0).counts
    except DataError:  # negative fractions
        return False
    return bool(np.all(counts == np.round(counts)))


def inspect_file(path: str | PathLike[str], *, dataset: str | None = None) -> InspectedFile:
    """Look at any file of measurements and say what it holds and how it was understood.

    Parameters
    ----------
    path : a file of frames, curves or a mask, by its content; or a study file (``.toml``).
    dataset : where the frames stand in an HDF5 file, if that is not found by itself.

    Returns
    -------
    InspectedFile with ``kind``, ``facts``, ``rows``, ``notes``, ``.plot()`` and ``.to_dict()``. Counts are those of all
    exposures summed.

    Raises
    ------
    DataError : the path is a folder, the file is missing, broken or of no kind that is known.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.write_csv("tile.csv", sl.examples.curve())
    >>> found = sl.inspect_file("tile.csv")
    >>> found.kind, found.facts["curves"][0]["points"]
    ('curves', 90)
    """
    path = fspath(path)
    if Path(path).is_dir():
        raise data_error(f"'{path}' is a folder, not a file.", "Give the files in it.")
    if path.lower().endswith(".toml") and Path(path).exists():
        return _inspect_study(path)
    try:
        file = frames.open_frames(path, dataset=dataset)
    except DataError as error:
        return _inspect_other(path, error)
    if dataset is None and file.dataset.rsplit("/", 1)[-1] in ("mask", "pixel_mask"):
        return _inspect_mask(path)
    # Two columns are a strip's channels and counts, or q and an intensity, which is hardly ever whole.
    if file.format == "text" and not is_whole(file):
        return _text_curve(path)
    return _inspect_frames(file, path)


def _inspect_other(path: str, error: Exception) -> InspectedFile:
    """A file that holds no frames; the words about frames are kept for one that holds nothing else either."""
    if not Path(path).exists():
        raise error
    for attempt in (lambda p: _inspect_curves(curves.read_curves(p), p, []), _inspect_mask, _text_curve):
        try:
            return attempt(path)
        except (DataError, InputError):
            continue
    raise error
