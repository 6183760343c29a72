# SPDX-License-Identifier: GPL-3.0-or-later
"""The closure of the reduction: frames with every effect on, from a simulator that shares nothing with it, come back as
the curve that was put in, with the covariance that is stated.

Source: chi squared with n degrees of freedom (mean 1, sd sqrt(2/n) a point). measure.py counts other seeds.
"""

import numpy as np
import pytest

from closure.measure import EXPERIMENTS, experiment, pool

SEED = 1


@pytest.fixture(scope="module")
def closed():
    return [experiment(SEED, number) for number in range(EXPERIMENTS)]


@pytest.fixture(scope="module")
def pooled(closed):
    p = pool([result for _, result in closed])
    print(f"chi2/n {p.chi2 / p.n:.4f}, points {p.points_chi2 / p.points_n:.4f}, n {p.n}, scale {p.scale:.5f}")
    return p


@pytest.mark.slow
def test_the_experiments_differ(closed):
    setups = [setup for setup, _ in closed]
    assert len(setups) >= 25
    assert {s.scale for s in setups} == {"carbon", "water", "direct beam"}
    assert {s.sample.form for s in setups} == {"plate", "capillary"}
    for choice in (
        lambda s: s.sample.rotation_deg != 0,
        lambda s: s.solvent is not None,
        lambda s: s.paralysable,
        lambda s: s.by_monitor,
        lambda s: s.distance_relative_u > 0,
        lambda s: s.geometry.tilt_deg != (0.0, 0.0, 0.0),
    ):
        assert 5 < sum(map(choice, setups)) < len(setups) - 5


@pytest.mark.slow
def test_chi_squared_is_that_of_the_stated_covariance(pooled):
    # The sd of chi2/n is sqrt(2/n), 0.014 here; the band is the closure's demand, 3.5 of them wide.
    assert np.sqrt(2 / pooled.n) < 0.02
    assert 0.95 < pooled.chi2 / pooled.n < 1.05


@pytest.mark.slow
def test_points_scatter_as_their_own_errors_say(pooled):
    # What no combination of the coherent causes explains.
    assert np.sqrt(2 / pooled.points_n) < 0.02
    assert 0.95 < pooled.points_chi2 / pooled.points_n < 1.05


@pytest.mark.slow
def test_the_absolute_scale_is_right(pooled):
    assert pooled.scale_u < 0.002
    assert pooled.scale == pytest.approx(1.0, abs=0.01)
    # Each experiment's scale misses by its own u: mean of z^2 over EXPERIMENTS, sd sqrt(2/EXPERIMENTS) = 0.14; 3.5 of it.
    assert abs(pooled.scale_chi2 - 1) < 3.5 * np.sqrt(2 / EXPERIMENTS)


@pytest.mark.slow
def test_no_single_experiment_fails(closed):
    # The smallest of EXPERIMENTS probabilities is below 1e-4 in one of 100 runs.
    worst = min((result.probability(), number) for number, (_, result) in enumerate(closed))
    assert worst[0] > 1e-4, f"experiment {worst[1]}: probability {worst[0]:.2g}"


@pytest.mark.slow
def test_expectations_close_without_noise():
    """Mean counts and told values alone: what is left is what reducer and simulator do differently.

    At these counts it may add at most 0.003 to chi squared a point; a tenth of the pooled one's own scatter is 0.0014.
    The scale: a standard measured in coarse pixels and read between certified points is good to 0.3 %; a direct beam has
    no such limit.
    """
    added, n = 0.0, 0
    for number in range(1, EXPERIMENTS, 3):  # the tilted ones with a monitor
        setup, result = experiment(SEED, number, noise=False)
        chi2, scale = result.chi2(), result.scale()[0]
        assert chi2 < 0.05 * result.truth.size, f"experiment {number}"
        assert abs(scale - 1) < (0.001 if setup.scale == "direct beam" else 0.003), f"experiment {number}"
        added, n = added + chi2, n + result.truth.size
    assert added / n < 0.003
