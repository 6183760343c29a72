# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study says of its own choices: the price list, and numbers found together with the sizes."""

import csv
import math

import pytest

from sievelight.errors import InputError
from sievelight.report import write_report
from sievelight.study import run_study
from sievelight.study.settings import read_settings


def test_the_first_samples_choices_are_priced_and_kept(study):
    folder, _ = study
    path = folder / "study.toml"
    path.write_text(path.read_text().replace('what_if = "none"', 'what_if = "first"'))
    result = run_study(path)
    first, *others = result.samples
    rows = first.details["what_if"]
    assert len(rows) >= 6 and all("what_if" not in s.details for s in others)
    assert {"x50_nm", "relative_width", "chi2_per_point", "choice"} <= set(rows[0])
    assert any(math.isfinite(r["x50_nm"]) and r["x50_nm"] != 0 for r in rows)
    page = write_report(result).read_text(encoding="utf-8")
    assert "What other choices would have moved" in page and rows[0]["choice"] in page
    again = run_study(path)
    assert again.redone == [] and [r["choice"] for r in again.samples[0].details["what_if"]] == [
        r["choice"] for r in rows
    ]


def test_a_hard_sphere_fraction_is_fitted_with_the_sizes(study):
    folder, _ = study
    path = folder / "study.toml"
    text = path.read_text().replace('method = "evidence"', 'also_fit = "hard_sphere_fraction"')
    path.write_text(text)
    # One sample is enough; the fit takes some ten inversions.
    table = (folder / "measurements.csv").read_text().splitlines()
    head = table[0].split(",")
    samples = [line for line in table[1:] if next(csv.DictReader([table[0], line]))["role"] == "sample"]
    (folder / "measurements.csv").write_text("\n".join(line for line in table if line not in samples[1:]) + "\n")
    assert "role" in head
    result = run_study(path)
    size = result.samples[0].size
    found = size.also_fitted["hard_sphere_fraction"]
    # The demo's pores do not see each other: zero lies inside or at the edge of what is found.
    assert found.band95.low < 0.03 and found.value < 0.1
    with open(folder / "results" / "summary.csv", newline="") as file:
        row = next(csv.DictReader(file))
    assert float(row["hard_sphere_fraction"]) == found.value
    assert any("fitted with the sizes" in note for note in size.notes)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('also_fit = "hard_sphere_fraction"\nshape = "cylinder"\nlength_ratio = 5', "hard spheres"),
        ('also_fit = "power_exponent"', "power_law = true"),
        ('also_fit = "hard_sphere_fraction"\nmethod = "evidence"', "sampled"),
        ('also_fit = "radius"', "also_fit"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_words(tmp_path, keys, said):
    (tmp_path / "study.toml").write_text(f"[distribution]\n{keys}\n")
    with pytest.raises(InputError, match=said):
        read_settings(tmp_path / "study.toml")
