# SPDX-License-Identifier: GPL-3.0-or-later
"""Do the 95 % intervals hold the truth 95 % of the time? A short count; measure.py counts longer and prints the table."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent
CASES = ("log-normal 8 nm", "log-normal 20 nm", "Schulz 12 nm", "negative background", "demo, 3 % scale")
REPEATS = 16


@pytest.fixture(scope="module")
def measure():
    sys.path.insert(0, str(HERE))
    try:
        spec = importlib.util.spec_from_file_location("measure", HERE / "measure.py")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        yield module
    finally:
        sys.path.remove(str(HERE))


@pytest.fixture(scope="module")
def counted(measure):
    return measure.run(CASES, REPEATS, 1)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["x50_nm", "mean_nm", "phi_one_minus_phi"])
def test_intervals_hold_the_truth(counted, name):
    held = [row[name][3] for rows in counted.values() for row in rows]
    # 80 intervals of 95 %: 76 expected, standard deviation 1.9; fewer than 70 happens once in a thousand.
    assert len(held) == len(CASES) * REPEATS and np.sum(held) >= 70, f"{np.sum(held)} of {len(held)}"


@pytest.mark.slow
def test_no_second_peak_is_claimed_where_there_is_none(counted):
    assert not [name for name, rows in counted.items() for row in rows if row["two_modes"] > 0.95]


@pytest.mark.slow
def test_the_chains_converge(counted):
    assert np.mean([row["converged"] for rows in counted.values() for row in rows]) >= 0.95


# Hard spheres of a tenth of the volume, taken for dilute. Found in 40 of 40 curves of each case in the long run; the
# promise is nine of ten. A broad distribution at 3 % noise hides it (18 % found): its price stands in what_if.
@pytest.mark.slow
def test_interference_that_is_ignored_is_found(measure):
    names = [
        f"hard spheres 0.1 ignored, width {width}" for width in ("0.1, 3 % noise", "0.2, 3 % noise", "0.4, 1 % noise")
    ]
    found = measure.run(names, 20, 1, method="evidence")
    for name, rows in found.items():
        assert np.sum([row["objection"] for row in rows]) >= 18, name
