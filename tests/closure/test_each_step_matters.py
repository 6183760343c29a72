# SPDX-License-Identifier: GPL-3.0-or-later
"""Every step of the chain has an experiment in which leaving it out is found out, and doing it is right.

Source: chi squared of n bins with the stated covariance (scipy.stats). Found out: a probability below 1e-6; right: above
1e-3, which one right case of a thousand misses by chance.
"""

import pytest

from closure.measure import detect, detection_row
from closure.reduction import carbon
from closure.step_cases import step_cases
from sievelight import reduce

STEPS = [step.name for step in reduce.reduction_steps()]


def test_every_step_has_its_case():
    assert set(step_cases(carbon())) == set(STEPS)


@pytest.mark.slow
@pytest.mark.parametrize("step", STEPS)
def test_leaving_a_step_out_is_found_out(step):
    found = detect(step)
    print(detection_row(found))
    assert found.probability_with > 1e-3, detection_row(found)
    assert found.probability_without < 1e-6, detection_row(found)
