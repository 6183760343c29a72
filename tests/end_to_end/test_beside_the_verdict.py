# SPDX-License-Identifier: GPL-3.0-or-later
"""Further quantities, whole distributions, recipes and the next experiment, beside the verdict of a study."""

import csv

import numpy as np
import pytest

from sievelight import curve as curves
from sievelight.report import write_report
from sievelight.study import run_study

STUDY = """[distribution]
contrast_per_cm2 = 1e11
what_if = "none"
[compare]
reference = "A1"
also = ["mean", "volume_fraction"]
"""


def write_curve(path, median_nm, seed, noise=0.02):
    q = np.geomspace(0.12, 2.5, 100)
    d = median_nm * np.exp(0.15 * np.linspace(-4, 4, 121))
    weight = np.exp(-0.5 * np.linspace(-4, 4, 121) ** 2) * d**3
    x = np.outer(q, d / 2)
    truth = 0.02 * ((3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 @ weight) + 0.02
    u = noise * truth
    made = curves.Curve(
        q_per_nm=q, intensity=truth + u * np.random.default_rng(seed).standard_normal(q.size), private_u=u, unit="1/cm"
    )
    curves.write_nxcansas(path, made, title=path.stem)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """Two recipes, A of two batches and B of two, three samples each; B's pores are 10 % larger, batches scatter by 1 %."""
    folder = tmp_path_factory.mktemp("recipes")
    rng = np.random.default_rng(5)
    rows = ["name,role,batch,route,file"]
    for recipe, median in (("A", 12.0), ("B", 13.2)):
        for number in (1, 2):
            own = median * np.exp(0.01 * rng.standard_normal())
            for k in range(3):
                name = f"{recipe}{number}-{k}"
                write_curve(folder / f"{name}.h5", own * np.exp(0.01 * rng.standard_normal()), hash_of(name))
                rows.append(f"{name},curve,{recipe}{number},recipe {recipe},{name}.h5")
    (folder / "measurements.csv").write_text("\n".join(rows) + "\n")
    (folder / "study.toml").write_text(STUDY)
    return run_study(folder / "study.toml")


def hash_of(name):
    return sum(ord(c) * 31**k for k, c in enumerate(name)) % 2**31


def test_every_quantity_asked_for_is_compared(result):
    assert [c.quantity for c in result.further.quantities] == ["mean", "volume_fraction"]
    mean = {p.batch: p for p in result.further.quantities[0].pairs}
    assert mean["B1"].difference_percent == pytest.approx(10, abs=4) and mean["B1"].difference_significant
    with open(result.output / "batches.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {r["quantity"] for r in rows if r["kind"] == "pair"} == {"x50", "mean", "volume_fraction"}


def test_distances_see_the_shift_and_not_the_noise(result):
    far, near = result.further.distances["B1"], result.further.distances["A2"]
    # The mean moves with the median: 10 % of 12.4 nm.
    assert far.interval95_nm.low <= 1.24 <= far.interval95_nm.high
    assert far.value_nm == pytest.approx(1.24, abs=0.5) and near.value_nm < 0.4
    with open(result.output / "batches.csv", newline="") as file:
        found = {r["batch"]: float(r["value"]) for r in csv.DictReader(file) if r["kind"] == "distance"}
    assert found == {b: d.value_nm for b, d in result.further.distances.items()}


def test_recipes_are_compared_batch_by_batch(result):
    routes = result.further.routes
    assert {b.batch: b.samples for b in routes.batches} == {"recipe A": 2, "recipe B": 2}
    (pair,) = routes.pairs
    assert pair.batch == "recipe B" and pair.difference_percent == pytest.approx(10, abs=4)


def test_the_report_shows_them_and_what_would_decide(result):
    page = write_report(result).read_text(encoding="utf-8")
    assert "Wasserstein distance" in page and "recipe B" in page and "mean diameter" in page
    undecided = [p.batch for p in result.comparison.pairs if p.verdict == "undecided"]
    assert set(result.further.next_experiment) == set(undecided)
    for batch in undecided:
        assert (
            "fixed beforehand" in result.further.next_experiment[batch]
            and result.further.next_experiment[batch] in page
        )


def test_an_unknown_quantity_is_named(tmp_path):
    rows = ["name,role,batch,file"]
    for k in range(4):
        write_curve(tmp_path / f"s{k}.h5", 12, k)
        rows.append(f"s{k},curve,{'AB'[k // 2]},s{k}.h5")
    (tmp_path / "measurements.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "study.toml").write_text(STUDY.replace('"A1"', '"A"').replace('"mean"', '"girth"') + "")
    found = run_study(tmp_path / "study.toml")
    assert any("girth" in f.evidence for f in found.findings if f.severity == "error")
    assert [c.quantity for c in found.further.quantities] == ["volume_fraction"]
