# SPDX-License-Identifier: GPL-3.0-or-later
"""One kernel serves all curves on the same bins, and the result is the same as with a kernel of its own."""

import numpy as np

import sievelight as sl
from sievelight.study.kernels import KEPT, Kernels


def curve(seed, n=60, missing=None):
    q = np.geomspace(0.1, 2, n)
    truth = 10 * np.exp(-((q * 5) ** 2) / 5) + 1e-3 / q**4 + 0.01
    u = 0.03 * truth
    if missing is not None:
        u[missing] = 0.0
    return sl.Curve(
        q_per_nm=q, intensity=truth * (1 + 0.03 * np.random.default_rng(seed).standard_normal(n)), private_u=u
    )


def test_one_kernel_for_all_curves_on_the_same_points():
    kernels = Kernels()
    first = kernels.of(curve(1))
    assert kernels.of(curve(2)) is first
    assert kernels.of(curve(2, missing=3)) is not first and kernels.of(curve(1, n=61)) is not first
    with_it, alone = sl.invert(curve(2), kernel=first, draws=400), sl.invert(curve(2), draws=400)
    assert np.array_equal(with_it.q3_per_nm, alone.q3_per_nm)


def test_the_oldest_kernel_is_let_go():
    kernels = Kernels()
    first = kernels.of(curve(1))
    for n in range(61, 61 + KEPT):
        kernels.of(curve(1, n=n))
    assert kernels.of(curve(1)) is not first
