# SPDX-License-Identifier: GPL-3.0-or-later
"""All pairs at once give what each pair gives alone, and a thousand samples take no minute."""

import time

import numpy as np
import pytest

from sievelight import curve as curves
from sievelight.errors import InputError
from sievelight.study.shared_errors import covariance_of_all


def measured(rng, n_points=30, drop=None, causes=("scale", "cell", "own"), edges=True):
    q = np.geomspace(0.1, 2, n_points + 1)
    low, high = q[:-1], q[1:]
    keep = np.arange(n_points) != (n_points if drop is None else drop)
    size = int(keep.sum())
    c = curves.Curve(q_per_nm=np.sqrt(low * high)[keep], intensity=np.ones(size), private_u=np.full(size, 0.1))
    if edges:
        c.q_low_per_nm, c.q_high_per_nm = low[keep], high[keep]
    kinds = {"scale": "coherent", "cell": "pointwise"}
    c.causes = {
        (f"own {rng.integers(1 << 40)}" if name == "own" else name): curves.Cause(
            kinds.get(name, "pointwise"), rng.standard_normal(size)
        )
        for name in causes
    }
    return c


@pytest.mark.parametrize("edges", [True, False])
def test_it_equals_the_pairs(edges):
    rng = np.random.default_rng(3)
    all_of_them = [
        measured(rng, causes=c, edges=edges) for c in (("scale", "cell", "own"), ("scale",), ("cell", "own"), ())
    ]
    if edges:
        all_of_them += [measured(rng, drop=4), measured(rng, drop=9), measured(rng)]
    influences = [rng.standard_normal(c.q_per_nm.size) for c in all_of_them]
    found = covariance_of_all(influences, all_of_them)
    want = [
        [curves.covariance_of_summaries(ja, a, jb, b) for jb, b in zip(influences, all_of_them)]
        for ja, a in zip(influences, all_of_them)
    ]
    # Sums of 30 products in another order: rounding only.
    assert found == pytest.approx(np.array(want), rel=1e-12, abs=1e-13) and np.array_equal(found, found.T)
    assert found[3].any() == np.False_ and found[0, 1] != 0
    assert np.linalg.eigvalsh(found).min() > -1e-12 * np.trace(found)


def test_it_refuses_what_a_pair_refuses():
    rng = np.random.default_rng(4)
    a, b, c = measured(rng), measured(rng), measured(rng, n_points=29)
    b.causes = {"scale": curves.Cause("pointwise", np.ones(30))}
    ones = [np.ones(30), np.ones(30)]
    with pytest.raises(InputError, match="scale"):
        covariance_of_all(ones, [a, b])
    with pytest.raises(InputError, match="cell"):
        covariance_of_all([np.ones(30), np.ones(29)], [a, c])
    with pytest.raises(InputError, match="3 values"):
        covariance_of_all([np.ones(3), np.ones(3)], [a, a])


def test_a_thousand_samples_are_compared_in_seconds():
    rng = np.random.default_rng(5)
    many = [measured(rng, n_points=120) for _ in range(1000)]
    influences = [rng.standard_normal(120) for _ in many]
    begun = time.process_time()
    found = covariance_of_all(influences, many)
    # Half a million calls, a pair each, take no less than a second; all at once was measured at 0.1 s.
    assert found.shape == (1000, 1000) and time.process_time() - begun < 3
