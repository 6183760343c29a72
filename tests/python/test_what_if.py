# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of neighbouring choices."""

import numpy as np
import pytest
from test_distribution import CONTRAST, curve

import sievelight as sl


def test_choices_that_do_not_matter_stay_within_the_band_and_one_that_does_stands_out():
    plain = sl.what_if(curve(), contrast_per_cm2=CONTRAST)
    own = plain.result.x50_nm.u / plain.result.x50_nm.value
    assert len(plain.rows) == 8 and all(abs(r["x50_nm"]) < 2 * own for r in plain.rows[:5]), plain
    # Spheroids of 1.5 make some percent of width, as the study of the method found by simulation (spheres fitted to them: +17 %).
    long, flat, crowded = plain.rows[5:]
    assert -0.3 < long["relative_width"] < -0.03 and flat["chi2_per_point"] < 1.5
    assert crowded["chi2_per_point"] > 0 and not np.isnan(crowded["x50_nm"])
    assert "without" not in plain.rows[3]["choice"] and "%" in repr(plain)
    # Grain surfaces in the data and none in the model: the choice of the model matters more than the noise.
    c = curve()
    grains = sl.Curve(
        q_per_nm=c.q_per_nm, intensity=c.intensity + c.intensity[0] * (c.q_per_nm[0] / c.q_per_nm) ** 4,
        private_u=c.private_u, q_low_per_nm=c.q_low_per_nm, q_high_per_nm=c.q_high_per_nm, unit=c.unit,
    )  # fmt: skip
    without = sl.what_if(grains, contrast_per_cm2=CONTRAST, power_law=True)
    missed = next(r for r in without.rows if r["choice"] == "without K q^-4")
    assert abs(without.worst("mean_nm")["mean_nm"]) >= abs(missed["mean_nm"])
    assert abs(missed["mean_nm"]) > 5 * without.result.mean_nm.u / without.result.mean_nm.value
    with pytest.raises(ValueError, match="Known"):
        without.worst("colour")


def test_a_choice_that_cannot_be_tried_says_why():
    c = curve()
    few = sl.Curve(q_per_nm=c.q_per_nm[::8], intensity=c.intensity[::8], private_u=c.private_u[::8], unit=c.unit)
    rows = sl.what_if(few, diameter_nm=(6.0, 24.0)).rows
    assert any("not possible" in r["note"] and np.isnan(r["x50_nm"]) for r in rows)
