# SPDX-License-Identifier: GPL-3.0-or-later
"""Planned looks at a growing comparison, and what a study says of looks that were not planned."""

import numpy as np
import pytest

from sievelight.compare import compare_batches, sequential_limits, size_experiment
from sievelight.study.findings import Findings
from sievelight.study.looks import watch_looks
from sievelight.study.settings import read_settings


def settings_of(tmp_path, text=""):
    path = tmp_path / "study.toml"
    path.write_text(f"[compare]\n{text}\n")
    return read_settings(path)


def compared(n, *, scatter=0.05, **more):
    rng = np.random.default_rng(3)
    a, b = 10 * np.exp(scatter * rng.standard_normal((2, 12)))
    values = np.concatenate([a[:n], b[:n]])
    return compare_batches(
        names=[str(k) for k in range(2 * n)], batches=["A"] * n + ["B"] * n, values=values, reference="A", **more
    )


def watch(tmp_path, n, text="", **more):
    findings = Findings()
    settings = settings_of(tmp_path, text)
    given = compared(n, looks=settings.compare.looks, spending=settings.compare.spending, **more)
    return watch_looks(tmp_path, given, settings, findings), findings.items


def test_limits_agree_with_a_multivariate_normal():
    # Source: SciPy's integral of the multivariate normal (A. Genz); correlation of two looks sqrt(t_j / t_k).
    from scipy.stats import multivariate_normal

    t = np.array([0.3, 0.7, 1.0])
    limits = sequential_limits(t, alpha=0.05, spending="pocock")
    correlation = np.sqrt(np.minimum.outer(t, t) / np.maximum.outer(t, t))
    inside = [
        multivariate_normal.cdf(limits.z[:k], np.zeros(k), correlation[:k, :k], abseps=1e-8, releps=1e-8)
        for k in (1, 2, 3)
    ]
    assert 1 - np.array(inside) == pytest.approx(limits.spent, abs=2e-6)
    assert limits.spent[-1] == pytest.approx(0.05)


def test_a_look_is_judged_at_its_own_level_and_no_other_number_is():
    plan = [3, 6, 12]
    levels = sequential_limits(np.array(plan) / 12).level
    for k, n in enumerate(plan):
        (pair,) = compared(n, looks=plan).pairs
        assert pair.look == k + 1 and pair.verdict_level == pytest.approx(levels[k], rel=1e-9)
    (pair,) = compared(5, looks=plan, scatter=0.001).pairs
    assert pair.verdict == "undecided" and "no look was planned at 5" in pair.reason and not pair.difference_significant
    with pytest.raises(ValueError, match="looks are planned at"):
        compared(4, looks=[6, 3])
    with pytest.raises(ValueError, match="spend"):
        compared(4, looks=[4, 8], spending="evenly")


def test_a_plan_with_looks_ends_sooner_on_average():
    once, thrice = (size_experiment(between_sd_percent=3.0, looks=k).steps[-1] for k in (1, 3))
    assert once.looks == [once.samples] and len(thrice.looks) == 3 and thrice.looks[-1] == thrice.samples
    assert thrice.mean_samples < thrice.samples


def test_planned_looks_pass_and_are_kept(tmp_path):
    for n in (4, 8):
        comparison, said = watch(tmp_path, n, "looks = [4, 8, 12]")
        assert comparison is not None and said == []
    text = (tmp_path / "looks.csv").read_text()
    assert text.count("4 8 12 obrien_fleming") == 2
    watch(tmp_path, 8, "looks = [4, 8, 12]")  # the same once more is no further look
    assert (tmp_path / "looks.csv").read_text() == text


def test_looks_that_were_planned_too_late_are_refused(tmp_path):
    assert watch(tmp_path, 4)[0] is not None
    comparison, said = watch(tmp_path, 8, "looks = [4, 8, 12]")
    assert comparison is None and said[0].severity == "error" and "none planned then" in said[0].evidence
    # In a folder where nothing was compared before they are welcome; another plan afterwards is not.
    (tmp_path / "new").mkdir()
    assert watch(tmp_path / "new", 4, "looks = [4, 8, 12]")[0] is not None
    assert watch(tmp_path / "new", 6, "looks = [6, 8, 12]")[0] is None


def test_samples_added_to_an_undecided_pair_are_named(tmp_path):
    assert compared(4).pairs[0].verdict == "undecided"
    watch(tmp_path, 4)
    comparison, said = watch(tmp_path, 8)
    assert (
        comparison is not None
        and said[0].severity == "warning"
        and "4 and 4 samples then, 8 and 8 now" in said[0].evidence
    )
    # One that was decided, and one with fewer samples than before, raise nothing.
    (tmp_path / "new").mkdir()
    watch(tmp_path / "new", 8, scatter=0.001)
    assert watch(tmp_path / "new", 12, scatter=0.001)[1] == []
    assert watch(tmp_path, 3)[1] == []


@pytest.mark.parametrize("text", ["looks = [4]", "looks = [8, 4]", "looks = [1, 4]", 'spending = "evenly"'])
def test_plans_that_are_none_are_refused(tmp_path, text):
    with pytest.raises(ValueError, match=r"looks|spending"):
        settings_of(tmp_path, text)
