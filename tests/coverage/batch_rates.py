# SPDX-License-Identifier: GPL-3.0-or-later
"""How often the verdict on two batches is false with few samples, balanced or not, and how often it decides at all.

    python tests/coverage/batch_rates.py [--experiments 10000] [--processes 2] [--out FOLDER]

writes batch_rates.csv (every cell) and batch_rates.md (a line a pair of batch sizes and ratio of scatters), beside this
file. Each cell simulates experiments as the model of the comparison says: a sample's logarithm is the batch's, plus
normal scatter, plus the measurement's own normal error, which the comparison is told. Truths: no difference; a difference of
the margin itself, where both false verdicts are likeliest (Schuirmann 1987); twice the margin. With 10000 experiments a rate
of 5 % is known to 0.22 % (binomial standard error).
"""

from __future__ import annotations

import argparse
import csv
import itertools
import math
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sievelight.compare import compare_batches

MARGIN_PERCENT = 5.0
LIMIT = math.log1p(MARGIN_PERCENT / 100)
SIZES = ((2, 2), (3, 3), (4, 4), (2, 3), (2, 4), (3, 4))
RATIOS = (1.0, 2.0, 0.5, 4.0, 0.25)  # scatter of the second batch over that of the first
LEVELS = (0.1, 0.2, 0.5)  # root mean square of the two scatters, in margins
OWN = (0.0, 1.0)  # measurement's own error, in the same root mean square
RATES = ("false_equivalent", "false_different", "false_significant")
POWERS = ("says_equivalent", "says_different", "says_significant")


@dataclass(frozen=True)
class Cell:
    """One kind of experiment: samples of the two batches, their scatters."""

    samples: tuple[int, int]
    ratio: float
    level: float
    own: float

    @property
    def balanced(self) -> bool:
        """As many samples, and scatters of one size."""
        return self.samples[0] == self.samples[1] and self.ratio == 1.0

    def scatters(self) -> tuple[float, float]:
        """Standard deviations between samples, of logarithms."""
        first = self.level * LIMIT * math.sqrt(2 / (1 + self.ratio**2))
        return first, self.ratio * first


def cells() -> list[Cell]:
    """All cells of the table."""
    return [Cell(*parts) for parts in itertools.product(SIZES, RATIOS, LEVELS, OWN)]


def measure(cell: Cell, experiments: int) -> dict[str, float]:
    """Rates and powers of one cell."""
    rng = np.random.default_rng([*cell.samples, int(100 * cell.ratio), int(100 * cell.level), int(cell.own)])
    (n, m), (a, b) = cell.samples, cell.scatters()
    own = cell.own * cell.level * LIMIT
    names, batches = [f"s{k}" for k in range(n + m)], ["A"] * n + ["B"] * m
    spread = np.hypot(np.repeat([a, b], [n, m]), own)
    found = dict.fromkeys((*RATES, *POWERS), 0.0)
    for truth in (0.0, LIMIT, 2 * LIMIT):
        shift = np.repeat([0.0, truth], [n, m])
        values = np.exp(shift + spread * rng.standard_normal((experiments, n + m)))
        for row in values:
            (pair,) = compare_batches(
                names=names, batches=batches, values=row, u=own * row, reference="A", margin_percent=MARGIN_PERCENT
            ).pairs
            if truth == 0.0:
                found["false_significant"] += pair.difference_significant
                found["says_equivalent"] += pair.verdict == "equivalent"
            elif truth == LIMIT:
                found["false_equivalent"] += pair.verdict == "equivalent"
                found["false_different"] += pair.verdict == "different"
                found["says_significant"] += pair.difference_significant
            else:
                found["says_different"] += pair.verdict == "different"
    return {key: count / experiments for key, count in found.items()}


def _row(cell: Cell, rates: dict[str, float]) -> dict[str, object]:
    return {
        "samples_a": cell.samples[0],
        "samples_b": cell.samples[1],
        "scatter_b_over_a": cell.ratio,
        "scatter_in_margins": cell.level,
        "own_error_over_scatter": cell.own,
        **{key: round(value, 5) for key, value in rates.items()},
    }


def table(rows: list[dict[str, object]], experiments: int) -> str:
    """Markdown: the largest of each false rate over scatters and own errors, and the powers without own error."""
    lines = [
        "<!-- made by tests/coverage/batch_rates.py; every cell stands in batch_rates.csv -->",
        "",
        f"False verdicts on two batches, nominal 5 %, margin {MARGIN_PERCENT:g} %, {experiments} experiments a cell (binomial standard "
        f"error of 5 %: {100 * math.sqrt(0.0475 / experiments):.2f} %). False rates: the largest over scatters of {', '.join(f'{x:g}' for x in LEVELS)} "
        "margins, without and with a measurement error of the scatter's size. Power: without it, at scatters of "
        f"{' / '.join(f'{x:g}' for x in LEVELS)} margins.",
        "",
        "| samples | scatter B / A | false equivalent % | false different % | false significant % | says equivalent, if equal % | "
        "says different, at 2 margins % | significant, at 1 margin % |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for samples, ratio in itertools.product(SIZES, RATIOS):
        mine = [
            r
            for r in rows
            if (int(r["samples_a"]), int(r["samples_b"])) == samples and float(r["scatter_b_over_a"]) == ratio
        ]
        worst = [f"{100 * max(float(r[key]) for r in mine):.1f}" for key in RATES]
        bare = sorted(
            (r for r in mine if float(r["own_error_over_scatter"]) == 0), key=lambda r: float(r["scatter_in_margins"])
        )
        power = [" / ".join(f"{100 * float(r[key]):.0f}" for r in bare) for key in POWERS]
        lines.append(f"| {samples[0]} and {samples[1]} | {ratio:g} | " + " | ".join([*worst, *power]) + " |")
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--experiments", type=int, default=10000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path, default=Path(__file__).resolve().parent)
    options = parser.parse_args()
    every, rows = cells(), []
    with ProcessPoolExecutor(options.processes) as pool:
        found = pool.map(measure, every, [options.experiments] * len(every))
        for number, (cell, rates) in enumerate(zip(every, found), start=1):
            rows.append(_row(cell, rates))
            if number % 20 == 0:
                print(f"{number} of {len(every)} cells", file=sys.stderr, flush=True)
    with open(options.out / "batch_rates.csv", "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0], lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    text = table(rows, options.experiments)
    (options.out / "batch_rates.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
