# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables a study writes: summary.csv, batches.csv, findings.csv and record.json."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from sievelight.files import write_together
from sievelight.study.results import SampleResult, StudyResult
from sievelight.study.series import COLUMNS as SERIES_COLUMNS
from sievelight.study.series import series_rows
from sievelight.text_files import no_formula

# Estimates in the order of the columns; each is followed by _low, _high (95 %) and _u.
SUMMARY_ESTIMATES = (
    "x10_nm", "x50_nm", "x90_nm", "mean_nm", "relative_width", "phi_one_minus_phi", "volume_fraction",
    "specific_surface_m2_per_cm3", "specific_surface_m2_per_g", "rg_nm", "porod_constant_per_cm5", "invariant_per_cm4",
    "surface_mean_nm", "number_mean_nm", "pore_chord_nm", "number_per_cm3", "micropore_share", "mesopore_share",
    "macropore_share", "spacing_nm", "lattice_nm", "ordered_pore_nm", "wall_nm", "domain_nm", "hard_sphere_fraction", "power_exponent", "background_per_cm", "azimuthal_amplitude", "order_parameter",
)  # fmt: skip
SUMMARY_NUMBERS = (
    "chi2_per_point",
    "noise_scale",
    "probability_two_modes",
    "invariant_share_extrapolated",
    "isotropic_probability",
)
BATCH_COLUMNS = (
    "kind", "batch", "reference", "samples", "quantity", "value", "value_low", "value_high", "between_sample_sd",
    "difference_percent", "difference_percent_low", "difference_percent_high", "difference_significant", "verdict",
)  # fmt: skip
FINDING_COLUMNS = ("severity", "measurement", "finding", "evidence", "mend")


def cell(value: Any) -> str:
    """A table cell: numbers so that they read back exactly, empty where there is none; no text is a formula."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return repr(float(value)) if isinstance(value, float) else str(value)
    return no_formula(str(value))  # results.json holds the text as it is


def _csv(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([cell(value) for value in row] for row in rows)
    return text.getvalue()


def summary_columns() -> list[str]:
    """Columns of summary.csv."""
    columns = ["name", "batch", "route", "transmission", "transmission_u", "thickness_mm", "thickness_u_mm"]
    columns += ["size_window_low_nm", "size_window_high_nm"]
    for name in SUMMARY_ESTIMATES:
        columns += [name, f"{name}_low", f"{name}_high", f"{name}_u"]
    return columns + list(SUMMARY_NUMBERS)


def summary_row(sample: SampleResult) -> list[Any]:
    """One row of summary.csv, in the order of `summary_columns`."""
    row: list[Any] = [sample.name, sample.batch, sample.route, sample.transmission.value, sample.transmission.u]
    row += [sample.thickness_mm.value, sample.thickness_mm.u]
    row += [sample.size.window_nm.low, sample.size.window_nm.high] if sample.size else [None, None]
    for name in SUMMARY_ESTIMATES:
        e = sample.summary.get(name)
        row += [None] * 4 if e is None else [e.value, e.band95.low, e.band95.high, e.u]
    return row + [sample.numbers.get(name) for name in SUMMARY_NUMBERS]


def batch_rows(result: StudyResult) -> list[list[Any]]:
    """Rows of batches.csv: one a batch, then one a pair; the same of further quantities; distances between whole
    distributions (W1 in nm, noise removed); recipes."""
    if result.comparison is None:
        return []
    rows = _comparison_rows(result.comparison, "batch", "pair")
    further = result.further
    if further is None:
        return rows
    for comparison in further.quantities:
        rows += _comparison_rows(comparison, "batch", "pair")
    for batch, d in further.distances.items():
        rows.append(["distance", batch, result.comparison.reference, None, "wasserstein_nm", d.value_nm,
                     d.interval95_nm.low, d.interval95_nm.high, None, None, None, None, None, None])  # fmt: skip
    if further.routes is not None:
        rows += _comparison_rows(further.routes, "route", "route pair")
    return rows


def _comparison_rows(comparison: Any, one: str, pair: str) -> list[list[Any]]:
    rows: list[list[Any]] = []
    for b in comparison.batches:
        rows.append([one, b.batch, comparison.reference, b.samples, comparison.quantity, b.mean.value, b.mean.band95.low,
                     b.mean.band95.high, b.between_sample_sd, None, None, None, None, None])  # fmt: skip
    for p in comparison.pairs:
        rows.append([pair, p.batch, comparison.reference, None, comparison.quantity, None, None, None, None,
                     p.difference_percent, p.difference_percent_low, p.difference_percent_high,
                     p.difference_significant, p.verdict])  # fmt: skip
    return rows


def _plain(value: Any) -> Any:
    """A cell as JSON holds it: nothing instead of NaN, which JSON does not know."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


def all_tables(result: StudyResult) -> dict[str, tuple[Sequence[str], list[list[Any]]]]:
    """The study's tables by name, each as its columns and rows."""
    tables: dict[str, tuple[Sequence[str], list[list[Any]]]] = {
        "summary": (summary_columns(), [summary_row(s) for s in result.samples]),
        "batches": (BATCH_COLUMNS, batch_rows(result)),
        "findings": (
            FINDING_COLUMNS,
            [[f.severity, f.measurement, f.finding, f.evidence, f.mend] for f in result.findings],
        ),
    }
    if result.series:
        tables["series"] = (SERIES_COLUMNS, series_rows(result.series))
    return tables


def write_tables(result: StudyResult) -> None:
    """Write summary.csv, batches.csv, findings.csv, the same three as results.json, and record.json: all of them, or
    none where the disk is full."""
    out: Path = result.output
    tables = all_tables(result)
    files = {out / f"{name}.csv": _csv(columns, rows) for name, (columns, rows) in tables.items()}
    content = {
        name: [dict(zip(columns, map(_plain, row), strict=True)) for row in rows]
        for name, (columns, rows) in tables.items()
    }
    files[out / "results.json"] = json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    files[out / "record.json"] = json.dumps(result.record, indent=1, sort_keys=True) + "\n"
    write_together(files)
