# SPDX-License-Identifier: GPL-3.0-or-later
"""Real absolute neutron curves of a steel aged for 15 minutes to 100 hours: carbides coarsen.

Source: canSAS 1D working group, example data; A. J. Allen, D. Gavillet, J. R. Weertman, Acta Metall. Mater. 41 (1993)
1869: radii grow and numbers fall with ageing time (as the data's README says). The curves span 0.17 to 1.04 1/nm only:
free sizes are seen above 9 nm, so what grows there is the volume; the median below needs a family.
"""

import itertools

import numpy as np
import pytest

import sievelight as sl

HOURS = {"qu": 0.25, "hf": 0.5, "1h": 1, "2h": 2, "5h": 5, "8h": 8, "10": 10, "50": 50, "cc": 100}
CONTRAST = 1e11  # 1/cm^2; a common factor only: the trend does not depend on it


@pytest.fixture(scope="module")
def aged(reference_data):
    path = reference_data / "cs_af1410.h5"
    if not path.exists():
        pytest.skip(f"no {path.name} in the reference data")
    found = {c.name.split("/")[1]: c.curve for c in sl.read_curves(path)}
    return {hours: found[f"AF1410_a{key}"] for key, hours in HOURS.items()}


def test_volume_moves_into_the_sizes_that_are_seen(aged):
    results = {
        h: sl.invert(c, contrast_per_cm2=CONTRAST, power_law=True, diameter_nm=(9.5, 17)) for h, c in aged.items()
    }
    volumes = [r.phi_one_minus_phi for r in results.values()]
    ranks = np.argsort(np.argsort([v.value for v in volumes]))
    assert np.corrcoef(ranks, np.arange(ranks.size))[0, 1] > 0.85  # Spearman; 5 % by chance is 0.60 for nine
    first, last = volumes[0], volumes[-1]
    assert last.value - first.value > 5 * np.hypot(first.u, last.u)
    assert all(0.5 < r.chi2_per_point < 1.6 for r in results.values())
    assert all(any("edge" in w for w in r.warnings) for r in results.values())  # most of the volume is smaller


def test_the_median_grows_and_the_number_falls_where_a_log_normal_is_determined(aged):
    late = [8, 10, 50, 100]
    fits = [sl.fit_parametric(aged[h], contrast_per_cm2=CONTRAST, power_law=True) for h in late]
    median, sigma = ([f.parameters[p] for f in fits] for p in ("median_nm", "sigma"))
    assert median[-1].value - median[0].value > 4 * np.hypot(median[0].u, median[-1].u)
    for a, b in itertools.pairwise(median):
        assert b.value > a.value - 2 * np.hypot(a.u, b.u)
    # Number per volume of a volume-weighted log-normal: 6 phi / (pi D^3) exp(9 sigma^2 / 2) (Hatch and Choate 1929).
    number = [f.phi_one_minus_phi.value / m.value**3 * np.exp(4.5 * s.value**2) for f, m, s in zip(fits, median, sigma)]
    assert number[-1] < 0.5 * number[0]
