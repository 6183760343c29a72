# SPDX-License-Identifier: GPL-3.0-or-later
"""A short form of batch_rates.py: balanced batches keep 7 %, the others reach what the table beside it says."""

import csv
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import batch_rates
from batch_rates import POWERS, RATES, Cell

EXPERIMENTS = 1500
STORED = Path(__file__).with_name("batch_rates.csv")


@pytest.fixture(scope="module")
def stored():
    with open(STORED, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {
        Cell(
            (int(r["samples_a"]), int(r["samples_b"])),
            float(r["scatter_b_over_a"]),
            float(r["scatter_in_margins"]),
            float(r["own_error_over_scatter"]),
        ): {key: float(r[key]) for key in (*RATES, *POWERS)}
        for r in rows
    }


def test_the_table_holds_every_cell_and_its_markdown_is_made_of_it(stored):
    assert set(stored) == set(batch_rates.cells())
    text = STORED.with_suffix(".md").read_text(encoding="utf-8")
    experiments = int(text.split(" experiments a cell")[0].rsplit(" ", 1)[1])
    with open(STORED, newline="", encoding="utf-8") as file:
        assert text == batch_rates.table(list(csv.DictReader(file)), experiments)


def test_balanced_batches_of_similar_scatter_never_exceed_seven_percent(stored):
    for cell, rates in stored.items():
        if cell.balanced:
            assert max(rates[key] for key in RATES) <= 0.07, cell


@pytest.mark.parametrize(
    "cell", [Cell((n, n), 1.0, level, own) for n in (2, 3, 4) for level, own in ((0.2, 0.0), (0.1, 1.0))]
)
def test_balanced_batches_keep_their_rates_today(cell):
    found = batch_rates.measure(cell, EXPERIMENTS)
    # Four binomial standard errors of 1500 experiments above 5 %: 7.25 %.
    for key in RATES:
        assert found[key] < 0.0725, (key, found)


@pytest.mark.parametrize(
    "cell",
    [
        Cell((2, 4), 0.25, 0.1, 0.0),
        Cell((2, 3), 4.0, 0.2, 1.0),
        Cell((3, 4), 0.5, 0.2, 0.0),
        Cell((2, 4), 4.0, 0.5, 0.0),
    ],
)
def test_unequal_batches_reach_what_the_table_says(stored, cell):
    found = batch_rates.measure(cell, EXPERIMENTS)
    for key, rate in stored[cell].items():
        # Both are counts: this one of 1500 and the stored one of more; 4.5 standard errors of their difference.
        u = np.sqrt(max(rate * (1 - rate), 1e-3) * (1 / EXPERIMENTS + 1 / 10000))
        assert found[key] == pytest.approx(rate, abs=4.5 * u), (key, found)


def test_the_simulation_can_fail(monkeypatch):
    """A comparison that took samples for twice as many would exceed every limit: the bounds above are no formality."""
    honest = batch_rates.compare_batches

    def doubled(*, names, batches, values, u, **more):
        return honest(
            names=[*names, *(f"{n}'" for n in names)],
            batches=[*batches, *batches],
            values=np.concatenate([values, values * 1.0000001]),
            u=np.concatenate([u, u]),
            **more,
        )

    monkeypatch.setattr(batch_rates, "compare_batches", doubled)
    assert batch_rates.measure(Cell((2, 2), 1.0, 0.2, 0.0), 400)["false_significant"] > 0.0725
