# SPDX-License-Identifier: GPL-3.0-or-later
"""Two one-sided tests, Student's t, Holm and random effects against general-purpose statistics libraries."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.weightstats import ttest_ind, ttost_ind, ttost_paired

from sievelight.compare import compare_batches, equivalence_test, holm

A = np.array([8.12, 8.05, 8.21, 8.09, 8.16, 8.11])
B = np.array([8.18, 8.08, 8.24, 8.15, 8.20, 8.13])


def samples():
    random = np.random.default_rng(3)
    return [(A, B)] + [
        (random.normal(8, 0.1, random.integers(2, 9)), random.normal(8.1, 0.3, random.integers(2, 9)))
        for _ in range(40)
    ]


# statsmodels.stats.weightstats.ttost_ind; ten digits, what two implementations of the t distribution share.
@pytest.mark.parametrize(("kind", "usevar"), [("welch", "unequal"), ("pooled", "pooled")])
def test_two_one_sided_tests_agree_with_statsmodels(kind, usevar):
    for a, b in samples():
        ours = equivalence_test(a, b, limits=(-0.2, 0.25), kind=kind)
        p, (t_low, p_low, df), (t_high, p_high, _) = ttost_ind(b, a, -0.2, 0.25, usevar=usevar)
        assert ours.degrees_of_freedom == pytest.approx(df, rel=1e-12)
        assert (ours.t_low, ours.t_high) == pytest.approx((t_low, t_high), rel=1e-10)
        assert (ours.p_low, ours.p_high, ours.p_equivalent) == pytest.approx((p_low, p_high, p), rel=1e-9)
        t_zero, p_zero, _ = ttest_ind(b, a, usevar=usevar)
        assert (ours.t_zero, ours.p_zero) == pytest.approx((t_zero, p_zero), rel=1e-9)
        # scipy.stats.ttest_ind's interval.
        interval = stats.ttest_ind(b, a, equal_var=kind == "pooled").confidence_interval(0.95)
        assert tuple(ours.interval95) == pytest.approx((interval.low, interval.high), rel=1e-8)


def test_paired_tests_agree_with_statsmodels():
    ours = equivalence_test(A, B, limits=(-0.10, 0.10), kind="paired")
    p, (t_low, _, _), (t_high, _, _) = ttost_paired(B, A, -0.10, 0.10)
    assert (ours.t_low, ours.t_high, ours.p_equivalent) == pytest.approx((t_low, t_high, p), rel=1e-9)


# statsmodels.stats.multitest.multipletests(method="holm").
def test_holm_agrees_with_statsmodels():
    random = np.random.default_rng(4)
    for k in range(1, 9):
        p = random.uniform(0, 0.2, k) ** 2
        reject, adjusted, _, _ = multipletests(p, 0.05, method="holm")
        ours, claimed = holm(p.tolist())
        assert ours == pytest.approx(adjusted, rel=1e-12)
        assert claimed == reject.tolist()


# Worked: batches without measurement errors are Welch's tests on logarithms (reference table: ratio 1.00492399).
def test_batches_are_welch_on_logarithms():
    result = compare_batches(
        names=[f"s{i}" for i in range(12)], batches=["A"] * 6 + ["B"] * 6, values=np.r_[A, B], reference="A"
    )
    p, _, _ = ttost_ind(np.log(B), np.log(A), -np.log(1.05), np.log(1.05), usevar="unequal")
    assert result.pairs[0].p_equivalent == pytest.approx(p, rel=1e-9)
    assert result.pairs[0].difference_percent == pytest.approx(0.492399, abs=1e-6)


# Balanced random effects, textbook (R. A. Fisher; e.g. Searle, Casella, McCulloch, Variance Components 1992, from memory):
# n repeats of each of k samples; between-sample variance (MSB - MSW) / n from scipy's one-way table, F = MSB / MSW.
def test_between_sample_sd_is_that_of_balanced_random_effects():
    random = np.random.default_rng(9)
    k, n = 6, 4
    repeats = random.normal(10, 0.5, (k, 1)) + random.normal(0, 0.4, (k, n))
    msw = repeats.var(axis=1, ddof=1).mean()
    msb = n * repeats.mean(axis=1).var(ddof=1)
    assert stats.f_oneway(*repeats).statistic == pytest.approx(msb / msw)
    result = compare_batches(
        names=[f"s{i}" for i in range(k + 2)],
        batches=["A"] * k + ["B"] * 2,
        values=np.r_[repeats.mean(axis=1), 10.0, 10.5],
        covariance=np.eye(k + 2) * msw / n,
        reference="A",
        log=False,
    )
    assert result.batches[0].between_sample_sd == pytest.approx(np.sqrt((msb - msw) / n))
    assert result.batches[0].mean.u == pytest.approx(np.sqrt(msb / (n * k)))


# The verdict's variance against brute force: shared, batch-wise and private errors drawn from one covariance, 20 samples a
# batch so that degrees of freedom do not matter; the sd of the difference over draws against the standard error stated.
def test_standard_error_agrees_with_brute_force():
    random = np.random.default_rng(12)
    n = 20
    labels = np.repeat(["A", "B"], n)
    same = labels[:, None] == labels[None, :]
    v = 0.02**2 * np.ones((2 * n, 2 * n)) + 0.01**2 * same + 0.015**2 * np.eye(2 * n)
    root = np.linalg.cholesky(v)
    differences, stated = [], []
    for _ in range(1500):
        y = np.exp(root @ random.normal(size=2 * n) + random.normal(0, 0.02, 2 * n)) * 9
        result = compare_batches(
            names=[f"s{i}" for i in range(2 * n)],
            batches=labels.tolist(),
            values=y,
            covariance=v * np.outer(y, y),
            reference="A",
        )
        differences.append(np.log1p(result.pairs[0].difference_percent / 100))
        stated.append(result.pairs[0].standard_error_percent / 100)
    # 1500 draws: the sd has a relative sd of 1.8 %; three of them.
    assert np.std(differences) == pytest.approx(np.sqrt(np.mean(np.square(stated))), rel=0.055)
