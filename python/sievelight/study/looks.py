# SPDX-License-Identifier: GPL-3.0-or-later
"""How often a study's batches were compared while they grew: looks.csv in the output folder keeps what was seen.

Adding samples to an undecided pair until a verdict appears makes it false too often. Looks that [compare] planned before
the first of them have limits of their own; looks that were not are named, and looks that were planned after samples had been
compared are refused.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING

from sievelight.errors import DataError
from sievelight.files import write_text
from sievelight.study.findings import Findings
from sievelight.study.settings import Settings
from sievelight.text_files import from_cell, no_formula, read_text

if TYPE_CHECKING:
    from sievelight.compare import BatchComparison

COLUMNS = ("quantity", "margin_percent", "batch", "reference", "samples", "reference_samples", "planned", "verdict")
FILE = "looks.csv"


def watch_looks(
    output: Path, comparison: BatchComparison | None, settings: Settings, findings: Findings
) -> BatchComparison | None:
    """Note this comparison beside the earlier ones of the same output folder; None, with an error, where the looks were
    planned only after samples had been compared."""
    if comparison is None:
        return None
    now = _rows(comparison, settings)
    earlier = _read(output / FILE)
    planned = _planned(settings)
    for row in now:
        before = [
            e for e in earlier
            if all(e[c] == row[c] for c in ("quantity", "margin_percent", "batch", "reference"))
            and _total(e) < _total(row)
        ]  # fmt: skip
        if not before:
            continue
        last = before[-1]
        grown = f"{last['samples']} and {last['reference_samples']} samples then, {row['samples']} and {row['reference_samples']} now"
        if planned and any(e["planned"] != planned for e in before):
            other = next(e["planned"] for e in before if e["planned"] != planned)
            findings.add(
                "error",
                "comparison",
                "The looks of [compare] were planned after samples had been compared; their limits hold no error rate, and "
                "no verdict is given.",
                f"{row['batch']}: looks {planned} now, {other or 'none planned'} then; {grown}",
                "Restore the looks that were planned, or compare new samples in an output folder of their own.",
            )
            return None
        if not planned and last["verdict"] == "undecided":
            findings.add(
                "warning",
                row["batch"],
                "Samples were added to an undecided comparison: a verdict that comes of it is false more often than stated "
                "(8 to 17 % instead of 5 % in simulations).",
                grown,
                "Report it as undecided and make a new experiment of a number fixed beforehand, or plan the looks of the "
                "next one: [compare] looks.",
            )
    known = {tuple(e[c] for c in COLUMNS) for e in earlier}
    new = [row for row in now if tuple(row[c] for c in COLUMNS) not in known]
    if new:
        write_text(output / FILE, _text([*earlier, *new]))
    return comparison


def _planned(settings: Settings) -> str:
    c = settings.compare
    return " ".join(map(str, c.looks)) + f" {c.spending}" if c.looks else ""


def _rows(comparison: BatchComparison, settings: Settings) -> list[dict[str, str]]:
    samples = {b.batch: b.samples for b in comparison.batches}
    return [
        {
            "quantity": comparison.quantity,
            "margin_percent": f"{comparison.margin_percent:.10g}",
            "batch": p.batch,
            "reference": p.reference,
            "samples": str(samples[p.batch]),
            "reference_samples": str(samples[p.reference]),
            "planned": _planned(settings),
            "verdict": p.verdict,
        }
        for p in comparison.pairs
        if samples[p.batch] > 1 and samples[p.reference] > 1
    ]


def _total(row: dict[str, str]) -> int:
    return int(row["samples"]) + int(row["reference_samples"])


def _read(path: Path) -> list[dict[str, str]]:
    try:
        rows = [dict(row) for row in csv.DictReader(io.StringIO(read_text(path, "table of looks", ""), newline=""))]
    except (DataError, csv.Error):
        return []
    sound = [r for r in rows if set(r) >= set(COLUMNS) and r["samples"].isdigit() and r["reference_samples"].isdigit()]
    return [{c: from_cell(r[c]) for c in COLUMNS} for r in sound]


def _text(rows: list[dict[str, str]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows({c: no_formula(v) for c, v in row.items()} for row in rows)
    return text.getvalue()
