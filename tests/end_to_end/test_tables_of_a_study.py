# SPDX-License-Identifier: GPL-3.0-or-later
"""The same numbers in CSV and JSON; gas sorption beside ours in the report."""

import csv
import json

import pytest

from sievelight.report import write_report
from sievelight.study import run_study


@pytest.fixture
def result(study):
    folder, edit = study
    edit("k1-a", sorption_surface_m2_per_g="150", sorption_surface_u_m2_per_g="5")
    return run_study(folder / "study.toml")


def test_csv_and_json_carry_the_same_numbers(result):
    content = json.loads((result.output / "results.json").read_text(encoding="utf-8"))
    for name in ("summary", "batches", "findings"):
        with open(result.output / f"{name}.csv", newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) == len(content[name])
        for row, other in zip(rows, content[name], strict=True):
            assert list(row) == list(other)
            for key, text in row.items():
                value = other[key]
                if value is None:
                    assert text == "", key
                elif isinstance(value, bool):
                    assert text == ("yes" if value else "no"), key
                elif isinstance(value, (int, float)):
                    assert float(text) == value, key
                else:
                    assert text == value, key
    assert any(isinstance(v, float) for v in content["summary"][0].values())


def test_gas_sorption_stands_beside_ours_with_the_word_on_closed_pores(result):
    page = write_report(result).read_text(encoding="utf-8")
    assert "Beside gas sorption" in page and "150.0 ± 5.0" in page and "closed pores" in page
