# SPDX-License-Identifier: GPL-3.0-or-later
"""The measurement table: a CSV file with one row a measurement.

Only `name`, `role` and `file` are always needed. A misspelt column stops the study, because nobody can know what it
meant; a bad value in a row becomes a problem of that row alone.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass, field
from pathlib import Path

from sievelight.errors import data_error, input_error, nearest
from sievelight.text_files import is_control, read_text

# Rows of these roles become results; the others serve them.
MEASURED_ROLES = ("sample", "curve")
ROLES = (
    "sample",
    "background",
    "empty_beam",
    "dark",
    "flat_field",
    "direct_beam",
    "calibrant",
    "standard",
    "dispersant",
    "curve",
)
TEXT_COLUMNS = ("name", "role", "batch", "route", "file", "dataset", "frames", "direct_beam", "background", "dark", "dispersant", "material",
                "position", "composition", "pore_fluid", "series", "note")  # fmt: skip
MEASURED_COLUMNS = ("exposure_s", "thickness_mm", "transmission", "incident_intensity", "transmitted_intensity",
                    "attenuator_transmission", "background_scale", "dispersant_share", "skeletal_density_g_per_cm3", "apparent_density_g_per_cm3",
                    "pore_volume_cm3_per_g", "sorption_surface_m2_per_g", "mass_mg", "area_mm2", "temperature_C", "relative_humidity_percent", "time_s", "time_step_s", "dose_Gy", "x_mm", "y_mm")  # fmt: skip


def _u_column(column: str) -> str:
    """Name of the standard-uncertainty column: `_u` goes before the unit, as in thickness_u_mm; else at the end."""
    for unit in ("_mm2", "_mm", "_mg", "_s", "_C", "_percent", "_g_per_cm3", "_cm3_per_g", "_m2_per_g"):
        if column.endswith(unit):
            return column[: -len(unit)] + "_u" + unit
    return column + "_u"


U_COLUMNS = {_u_column(column): column for column in MEASURED_COLUMNS} | {
    column + "_u": column for column in MEASURED_COLUMNS
}
COLUMNS = (*TEXT_COLUMNS, *MEASURED_COLUMNS, *U_COLUMNS)
MUST_BE_POSITIVE = ("exposure_s", "thickness_mm", "incident_intensity", "transmitted_intensity", "attenuator_transmission",
                    "skeletal_density_g_per_cm3", "apparent_density_g_per_cm3", "pore_volume_cm3_per_g", "sorption_surface_m2_per_g", "mass_mg", "area_mm2")  # fmt: skip


MOST_FRAMES = 1_000_000  # of one cell


@dataclass
class Measurement:
    """One measurement: a row, or several rows that share a name (repeats: their frames are summed)."""

    name: str
    role: str
    row: int
    files: list[tuple[str, str]] = field(default_factory=list)  # (file, frames) of each row
    text: dict[str, str] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    u: dict[str, float] = field(default_factory=dict)
    problems: list[tuple[str, str]] = field(default_factory=list)  # (what and where, mend)

    @property
    def batch(self) -> str:
        """Name of the synthesis batch; empty for one that belongs to none."""
        return self.text.get("batch", "")

    def get(self, column: str) -> float | None:
        """A measured value, or None where the cell is empty."""
        return self.values.get(column)

    def reference(self, column: str) -> str | None:
        """Name of another row (background, dark, direct_beam), or None."""
        return self.text.get(column) or None


def parse_frames(text: str) -> list[int] | None:
    """Which exposures of a stack to use: '' or 'all' = all (None); else a list like '0-3, 7', counted from 0."""
    if text.strip().lower() in ("", "all"):
        return None
    chosen: list[int] = []
    total = 0
    for part in text.replace(";", ",").split(","):
        first, dash, last = part.strip().partition("-")
        ends = [first.strip()] + [last.strip()] * bool(dash)
        # ASCII digits and not too many: '²' counts as a digit, and int() refuses thousands of them.
        if not all(end.isascii() and end.isdigit() and len(end) <= 9 for end in ends):
            raise input_error(
                f"frames = '{text[:80]}' is not a list of exposures.",
                "Write for example '0-9' or '0, 2, 5', counted from 0.",
            )
        start, end = int(first), int(last) if dash else int(first)
        total += end - start + 1
        if end < start or total > MOST_FRAMES:
            raise input_error(
                f"frames = '{text[:80]}' runs backwards or too far.",
                f"Write the smaller number first, and at most {MOST_FRAMES} exposures.",
            )
        chosen.extend(range(start, end + 1))
    return chosen


def each_of(text: str) -> str | None:
    """What follows `each` in a frames cell ('each 0-9': one measurement an exposure); '' for all, None without it."""
    first, _, rest = text.strip().partition(" ")
    return rest.strip() if first.lower() == "each" else None


def _read_row(row: int, cells: dict[str, str], file: str) -> Measurement:
    name, role = cells.get("name", ""), cells.get("role", "")
    m = Measurement(name=name, role=role, row=row)
    at = f"{file} row {row}"
    if not name:
        m.name = f"row {row}"
        m.problems.append((f"{at}: the name is empty.", "Give every measurement a name."))
    if role not in ROLES:
        m.problems.append((f"{at}: unknown role '{role}'.", nearest(role, ROLES)))
    if not cells.get("file"):
        m.problems.append(
            (f"{at}: no file is given for '{m.name}'.", "Give the path of its frames, relative to the table.")
        )
    for column, cell in cells.items():
        if column in TEXT_COLUMNS or not cell:
            if cell:
                m.text[column] = cell
            continue
        try:
            value = float(cell)
        except ValueError:
            m.problems.append(
                (
                    f"{at}, column {column}: '{cell}' is not a number.",
                    "Write a plain number; the unit is in the column's name.",
                )
            )
            continue
        if not math.isfinite(value):
            m.problems.append(
                (
                    f"{at}, column {column}: '{cell}' is not a finite number.",
                    "Leave the cell empty when the value is unknown.",
                )
            )
        elif column in U_COLUMNS:
            if value < 0:
                m.problems.append(
                    (f"{at}, column {column}: {cell} is negative.", "A standard uncertainty is zero or more.")
                )
            m.u[U_COLUMNS[column]] = value
        else:
            if column in MUST_BE_POSITIVE and value <= 0:
                m.problems.append(
                    (
                        f"{at}, column {column}: {cell} must be more than zero.",
                        "Correct the cell, or leave it empty when the value is unknown.",
                    )
                )
            m.values[column] = value
    chosen = m.text.get("frames", "")
    try:
        parse_frames(each_of(chosen) or "" if each_of(chosen) is not None else chosen)
    except ValueError as error:
        m.problems.append((f"{at}: {error.problem}", error.mend))  # type: ignore[attr-defined]
    for column, cell in cells.items():
        if any(is_control(c) for c in cell):
            m.problems.append(
                (f"{at}, column {column}: {cell[:80]!r} holds a control character.", "Write the cell again by hand.")
            )
    m.files.append((m.text.get("file", ""), m.text.get("frames", "")))
    return m


def _merge_repeat(first: Measurement, again: Measurement, file: str) -> None:
    """Rows that share a name are repeats of one measurement; what they say must agree."""
    for what, mine, other in (("role", first.role, again.role), ("batch", first.batch, again.batch)):
        if mine != other:
            first.problems.append((f"{file} rows {first.row} and {again.row} share the name '{first.name}' but not the {what} ('{mine}', '{other}').",
                                   "Repeats of one measurement share everything but the file; give different measurements different names."))  # fmt: skip
    for column, value in again.values.items():
        if column == "exposure_s":
            if first.values.get(column) != value:
                first.problems.append((f"{file} rows {first.row} and {again.row} of '{first.name}' have different exposures.",
                                       "Leave exposure_s empty where the files hold it, or give the rows different names."))  # fmt: skip
        elif first.values.setdefault(column, value) != value:
            first.problems.append(
                (
                    f"{file} rows {first.row} and {again.row} of '{first.name}' disagree on {column}.",
                    "Give repeats the same value, or different names.",
                )
            )
    first.files.extend(again.files)
    first.problems.extend(again.problems)


def read_table(path: str | Path) -> list[Measurement]:
    """Read and check a measurement table.

    Returns the measurements in the table's order; rows that share a name are one measurement with several files.

    Raises
    ------
    DataError
        The file is missing, empty or not a CSV text.
    InputError
        A column is unknown (the nearest is named), doubled, or a required one is missing.
    """
    path = Path(path)
    text = read_text(
        path, "measurement table", "Check `measurements` in the study file; save the table as CSV (UTF-8)."
    )
    try:
        lines = [row for row in csv.reader(io.StringIO(text, newline=""))]
    except csv.Error as error:
        raise data_error(f"'{path}' is not a text table ({error}).", "Save the table as CSV (UTF-8).") from None
    if not lines:
        raise data_error(f"'{path}' is empty.", "The first line names the columns: name, role, file, ...")
    header = [cell.strip() for cell in lines[0]]
    for column in header:
        if column not in COLUMNS:
            raise input_error(f"{path.name}: unknown column '{column}'.", nearest(column, COLUMNS))
        if header.count(column) > 1:
            raise input_error(f"{path.name}: the column '{column}' stands twice.", "Remove one of them.")
    for column in ("name", "role", "file"):
        if column not in header:
            raise input_error(
                f"{path.name}: the column '{column}' is missing.", "name, role and file are always needed."
            )
    measurements: dict[str, Measurement] = {}
    for number, cells in enumerate(lines[1:], start=2):
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        surplus = [cell for cell in cells[len(header) :] if cell.strip()]
        m = _read_row(number, {c: cell.strip() for c, cell in zip(header, cells)}, path.name)
        if surplus:
            m.problems.append(
                (
                    f"{path.name} row {number} has more cells than columns.",
                    "A comma inside a cell needs quotes around the cell.",
                )
            )
        if m.name in measurements:
            _merge_repeat(measurements[m.name], m, path.name)
        else:
            measurements[m.name] = m
    _check_references(measurements, path.name)
    if not measurements:
        raise data_error(f"'{path}' has no rows.", "Add one row a measurement.")
    return list(measurements.values())


def _check_references(measurements: dict[str, Measurement], file: str) -> None:
    for m in measurements.values():
        for column in ("background", "dark", "direct_beam", "dispersant"):
            wanted = m.reference(column)
            if wanted and wanted not in measurements:
                m.problems.append(
                    (f"{file} row {m.row}, column {column}: there is no row '{wanted}'.", nearest(wanted, measurements))
                )
