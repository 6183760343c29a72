# SPDX-License-Identifier: GPL-3.0-or-later
"""Do two synthesis batches have the same pores?

Which one do I use? `compare_batches` for a study: one value a sample, the covariance of the measurement errors, and a
verdict for every batch against a reference. `equivalence_test` for two plain lists of numbers. Both ask whether a
difference is surely smaller than what matters; "no significant difference" is another thing and answers nothing.
`distribution_distance` for the distributions as a whole; `size_experiment` for how many samples a new experiment needs;
`sequential_limits` for an experiment that is looked at several times while it grows, planned beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import (
    BatchComparison,
    BatchPair,
    BatchSummary,
    DistributionDistance,
    EquivalenceTest,
    SequentialLimits,
    SizeDistribution,
    Sizing,
)
from sievelight.errors import input_error

SpendingName = Literal["obrien_fleming", "pocock"]

__all__ = [
    "BatchComparison",
    "BatchPair",
    "BatchSummary",
    "DistributionDistance",
    "EquivalenceTest",
    "SequentialLimits",
    "Sizing",
    "compare_batches",
    "distribution_distance",
    "equivalence_test",
    "holm",
    "sequential_limits",
    "size_experiment",
    "wasserstein",
]


def compare_batches(
    *,
    names: Sequence[str],
    batches: Sequence[str],
    values: ArrayLike,
    covariance: ArrayLike | None = None,
    u: ArrayLike | None = None,
    quantity: str = "x50",
    margin_percent: float = 5.0,
    reference: str,
    log: bool = True,
    alpha: float = 0.05,
    scatter: Literal["per_batch", "pooled"] = "per_batch",
    single_samples: bool = False,
    looks: Sequence[int] = (),
    spending: SpendingName = "obrien_fleming",
) -> BatchComparison:
    """Compare batches with a reference: means, scatter between samples, and a verdict on each pair.

    Parameters
    ----------
    names, batches, values : (n) one a sample: its name, its batch, its value (a median size, say). Repeated measurements
        of one sample are one value.
    covariance : (n, n) of the measurement errors of `values`, what samples share included (`covariance_of_summaries`
        gives it). What all samples share cancels in differences and stays in means.
    u : (n) standard uncertainties instead of a covariance, where samples share nothing. With neither, the scatter alone
        counts, which holds all that is private to a sample but nothing that samples share.
    quantity : what the values are, kept for the record.
    margin_percent : smallest difference that matters, in percent of the reference.
    reference : the batch that the others are compared with.
    log : compare logarithms, so ratios; limits -ln(1 + margin) and ln(1 + margin). False for values that may be zero.
    alpha : probability of a false verdict; Holm's procedure keeps it over several pairs.
    scatter : "per_batch" lets every batch have its own between-sample scatter (Welch); "pooled" gives all one.
    single_samples : judge a batch of one sample by its measurement error alone; False leaves it undecided.
    looks : samples a batch at which a growing experiment is compared, planned before the first: [4, 8, 12]. Verdicts then
        stand at the limits of `sequential_limits`, alpha shared evenly among the pairs, and a pair whose batches have not
        both just one of these numbers stays undecided. Empty: one comparison.
    spending : how the looks spend alpha.

    Returns
    -------
    BatchComparison
        `batches`: samples, `mean` (an Estimate, shared errors included), `between_sample_sd` (measurement error removed).
        `pairs`: `difference_percent` with its 95 % interval, `verdict` ("equivalent": the 1 - 2 alpha interval lies inside
        the margin; "different": wholly outside; otherwise "undecided"), `reason` in words, `difference_significant` (the
        1 - alpha interval excludes zero), p-values and degrees of freedom.

    Raises
    ------
    InputError
        Naming the sample or batch: sizes that differ, values without a logarithm, a covariance that is not positive
        semidefinite, a reference that is none of the batches, a margin or alpha out of range.

    Notes
    -----
    D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657; S. Holm, Scand. J. Statist. 6 (1979) 65 (the latter from
    memory). Error rates with 2 to 4 samples a batch are measured in the tests: at most 6 % at a nominal 5 %
    where batches are of one number and similar scatter, up to 7.3 % (false significance 9.8 %) where the smaller batch scatters
    four times as much.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.compare_batches(
    ...     names=["1a", "1b", "1c", "2a", "2b", "2c"],
    ...     batches=["kiln 1"] * 3 + ["kiln 2"] * 3,
    ...     values=[8.00, 8.04, 7.97, 9.61, 9.55, 9.66],  # medians, nm
    ...     u=[0.02] * 6,
    ...     reference="kiln 1",
    ... )
    >>> pair = found.pairs[0]
    >>> f"{pair.batch}: {pair.verdict}, {pair.difference_percent:+.1f} %"
    'kiln 2: different, +20.0 %'
    """
    numbers = np.asarray(values, dtype=float)
    if covariance is not None and u is not None:
        raise input_error(
            "both a covariance and u are given.", "Give one of them; the covariance holds u on its diagonal."
        )
    if u is not None:
        v = np.diag(np.asarray(u, dtype=float) ** 2)
    elif covariance is not None:
        v = np.asarray(covariance, dtype=float)
    else:
        v = np.zeros((numbers.size, numbers.size))
    return _core.compare_batches(
        names=list(names),
        batches=list(batches),
        values=numbers,
        covariance=v,
        reference=reference,
        quantity=quantity,
        margin=margin_percent / 100,
        log=log,
        alpha=alpha,
        scatter=scatter,
        single_samples=single_samples,
        looks=list(looks),
        spending=spending,
    )


def equivalence_test(
    a: ArrayLike,
    b: ArrayLike,
    *,
    limits: tuple[float, float],
    kind: Literal["welch", "pooled", "paired"] = "welch",
    alpha: float = 0.05,
) -> EquivalenceTest:
    """Two one-sided tests: does mean(b) - mean(a) surely lie within the limits?

    Parameters
    ----------
    a, b : (n), (m) samples, at least two values each.
    limits : (low, high) of the difference that does not matter, in the values' unit.
    kind : "welch" (unequal variances), "pooled" (equal) or "paired".
    alpha : error rate of each verdict.

    Returns
    -------
    EquivalenceTest
        `p_equivalent`, `p_different`, `verdict_interval` (1 - 2 alpha), `interval95`, `equivalent`, `different`,
        `significant`, and the two t and p values.

    Raises
    ------
    InputError
        Fewer than two values, values that do not scatter, limits or alpha out of order.

    Notes
    -----
    D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680.

    Examples
    --------
    >>> import sievelight as sl
    >>> test = sl.compare.equivalence_test([8.00, 8.04, 7.97], [8.05, 7.99, 8.02], limits=(-0.4, 0.4))
    >>> test.equivalent, test.significant
    (True, False)
    """
    return _core.equivalence_test(
        np.asarray(a, dtype=float), np.asarray(b, dtype=float), limits=limits, kind=kind, alpha=alpha
    )


def sequential_limits(
    fractions: ArrayLike, *, alpha: float = 0.05, spending: SpendingName = "obrien_fleming"
) -> SequentialLimits:
    """Limits for looking several times at a growing experiment, at one error rate.

    Parameters
    ----------
    fractions : (K) information at each look over that at the last one, rising to 1: samples so far over samples planned.
    alpha : one-sided error over all looks, as each of two one-sided tests has it.
    spending : "obrien_fleming" spends hardly anything early, "pocock" much the same at every look.

    Returns
    -------
    SequentialLimits
        ``level``, what a one-sided p-value is compared with at each look, ``z``, and ``spent`` so far.

    Raises
    ------
    InputError
        Fractions that do not rise to 1, more than 20 looks, alpha out of range.

    Notes
    -----
    K. K. G. Lan, D. L. DeMets, Biometrika 70 (1983) 659 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> limits = sl.compare.sequential_limits([1 / 3, 2 / 3, 1])  # three looks at a growing experiment
    >>> bool(limits.level[0] < 0.01 < limits.level[2] < 0.05), round(float(limits.spent[2]), 6)
    (True, 0.05)
    """
    return _core.sequential_limits(np.asarray(fractions, dtype=float), alpha=alpha, spending=spending)


def holm(p: Sequence[float], *, alpha: float = 0.05) -> tuple[list[float], list[bool]]:
    """Several claims at a joint error rate: p-values adjusted by Holm's procedure, and which claims stand at alpha.

    Parameters
    ----------
    p : (k) p-values, each of 0 to 1.
    alpha : probability of any false claim among them.

    Returns
    -------
    (adjusted p-values, whether each claim stands), in the order given

    Notes
    -----
    S. Holm, Scand. J. Statist. 6 (1979) 65-70 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> adjusted, stands = sl.compare.holm([0.010, 0.040, 0.020])
    >>> [round(p, 3) for p in adjusted], stands
    ([0.03, 0.04, 0.04], [True, True, True])
    """
    return _core.holm(list(p), alpha=alpha)


def distribution_distance(
    a: Sequence[SizeDistribution], b: Sequence[SizeDistribution], *, resamples: int = 2000, seed: int = 1
) -> DistributionDistance:
    """Wasserstein distance between the mean distributions of two batches, the part that noise alone makes removed.

    Parameters
    ----------
    a, b : distributions of each batch's samples, sampled method, on the same sizes.
    resamples, seed : of the bootstrap over samples and draws.

    Returns
    -------
    DistributionDistance
        `value_nm` (>= 0) with `interval95_nm`; `raw_nm` as measured; `noise_nm`, what equal batches with this scatter show;
        `p_equal`, how often they would reach the raw distance. With two or three samples a batch the intervals are wide,
        because so few hardly know their own scatter.

    Raises
    ------
    InputError
        An empty batch, distributions on different sizes, or without draws.

    Notes
    -----
    W1 is the integral of the absolute difference of the cumulatives over the diameter; a shift by m nm is a distance of
    m nm. Bootstrap: B. Efron, R. Tibshirani, An Introduction to the Bootstrap, 1993 (from memory); its error rates are
    measured in tests.

    Examples
    --------
    >>> import sievelight as sl
    >>> of = {"diameter_nm": (3.0, 25.0), "draws": 400, "look_for_order": False}
    >>> a, b = (sl.invert(sl.examples.curve(median_nm=m), **of) for m in (8.0, 9.0))
    >>> distance = sl.compare.distribution_distance([a], [b], resamples=200)
    >>> f"{distance.raw_nm:.1f} nm"
    '1.0 nm'
    """
    everything = [*a, *b]
    if not everything or any(not np.array_equal(d.diameter_nm, everything[0].diameter_nm) for d in everything):
        raise input_error(
            "the distributions stand on different sizes, or there are none.",
            "Invert all samples with the same q bins and the same diameter_nm.",
        )
    return _core.distribution_distance(
        everything[0].diameter_nm,
        [d.cumulative_draws for d in a],
        [d.cumulative_draws for d in b],
        resamples=resamples,
        seed=seed,
    )


def wasserstein(
    a: ArrayLike, b: ArrayLike, *, weights_a: ArrayLike | None = None, weights_b: ArrayLike | None = None
) -> float:
    """Wasserstein distance of order one between two sets of (weighted) points, in their unit.

    Parameters
    ----------
    a, b : (n), (m) points.
    weights_a, weights_b : (n), (m), zero or more; equal where absent.

    Returns
    -------
    float, in the points' unit

    Raises
    ------
    InputError
        Points and weights differ in number, or weights are negative or all zero.

    Notes
    -----
    W1 = ∫ |F - G| dx. S. S. Vallender, Theory Probab. Appl. 18 (1974) 784 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.compare.wasserstein([1.0, 2.0], [1.5, 2.5])
    0.5
    """
    x, y = np.asarray(a, dtype=float), np.asarray(b, dtype=float)
    return _core.wasserstein(
        x,
        np.ones(x.size) if weights_a is None else np.asarray(weights_a, dtype=float),
        y,
        np.ones(y.size) if weights_b is None else np.asarray(weights_b, dtype=float),
    )


def size_experiment(
    *,
    between_sd_percent: float,
    scatter_degrees: float = 0.0,
    own_u_percent: float = 0.0,
    shared_u_percent: float = 0.0,
    difference_percent: float = 0.0,
    margin_percent: float = 5.0,
    alpha: float = 0.05,
    power: float = 0.8,
    most_samples: int = 60,
    looks: int = 1,
    spending: SpendingName = "obrien_fleming",
) -> Sizing:
    """How many samples a batch a *new* experiment needs, so that two batches are decided.

    Fix the number beforehand: adding samples to an undecided pair until a verdict appears makes it false too often. Or plan
    several looks beforehand, and compare with the same ``looks``.

    Parameters
    ----------
    between_sd_percent : scatter between samples of a batch, relative.
    scatter_degrees : degrees of freedom that it rests on (samples less batches); it is then raised to its 80 % upper limit,
        because few samples hardly know it. 0: known.
    own_u_percent : measurement error of one sample that it shares with no other.
    shared_u_percent : standard uncertainty of the difference that more samples do not narrow (batches measured with
        different calibrations).
    difference_percent : the difference that is supposed to be true; 0 asks for "equivalent".
    margin_percent, alpha : as for `compare_batches`.
    power : probability with which the pair shall be decided.
    most_samples : where to give up.
    looks, spending : how often the experiment is looked at, at even numbers of samples, and how that spends alpha. The
        samples are then those at the last look.

    Returns
    -------
    Sizing
        `samples` a batch (None where out of reach), `steps` with the probabilities of each verdict, the samples at each
        look (`looks`) and how many it takes on average (`mean_samples`), and
        `limited_by_shared`: calibrate or measure the batches together, samples are not what is missing.

    Raises
    ------
    InputError
        Negative or impossible numbers, or nothing that varies.

    Examples
    --------
    >>> import sievelight as sl
    >>> sizing = sl.compare.size_experiment(between_sd_percent=2.0, own_u_percent=0.5, margin_percent=5.0)
    >>> sizing.samples, sizing.limited_by_shared
    (5, False)
    """
    return _core.size_experiment(
        between_sd=between_sd_percent / 100,
        scatter_degrees=scatter_degrees,
        own_u=own_u_percent / 100,
        shared_u=shared_u_percent / 100,
        difference=float(np.log1p(difference_percent / 100)),
        margin=float(np.log1p(margin_percent / 100)),
        alpha=alpha,
        power=power,
        most_samples=most_samples,
        looks=looks,
        spending=spending,
    )
