# SPDX-License-Identifier: GPL-3.0-or-later
"""A copy of the small demo that a test may spoil."""

import csv
import shutil

import pytest


@pytest.fixture
def study(small_demo, tmp_path):
    """A copy of the small demo; `edit(name, column=value)` changes cells of its table; a new name adds a row."""
    folder = tmp_path / "study"
    shutil.copytree(small_demo, folder)

    def edit(row_name, **cells):
        with open(folder / "measurements.csv", newline="") as file:
            table = list(csv.DictReader(file))
        for column in cells:
            for row in table:
                row.setdefault(column, "")
        known = [row for row in table if row["name"] == row_name]
        if not known:
            known = [dict.fromkeys(table[0], "") | {"name": row_name}]
            table += known
        for row in known:
            row.update(cells)
        with open(folder / "measurements.csv", "w", newline="") as file:
            writer = csv.DictWriter(file, table[0].keys())
            writer.writeheader()
            writer.writerows(table)

    # The quick, non-sampled inversion keeps these tests short; what is tested is the handling of rows.
    text = (folder / "study.toml").read_text()
    (folder / "study.toml").write_text(text.replace("[distribution]", '[distribution]\nmethod = "evidence"'))
    return folder, edit
