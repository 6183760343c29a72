# SPDX-License-Identifier: GPL-3.0-or-later
"""Before the measurement: how long to expose, and can this configuration answer at all?

Which one do I use? `pilot_measurement` where a short exposure exists, `expected_measurement` where only a guess of the
sample does; both give an :class:`Outlook`. `plan_exposure` turns it and a target into times for each sample and for the
background they share. `own_u_to_decide` says how well each sample must be known for a verdict between batches.
`judge_configuration` asks whether the sizes, the thickness and the count rate suit the instrument. `foresee` gives the
error of a named distribution by Fisher information, in milliseconds.
"""

from sievelight.plan.configuration import Judgement, judge_configuration
from sievelight.plan.exposure import BEAM_DAMAGE, ExposurePlan, Foretold, own_u_to_decide, plan_exposure, simulate
from sievelight.plan.outlook import (
    Beam,
    Outlook,
    best_split,
    expected_measurement,
    foresee,
    pilot_measurement,
)

__all__ = [
    "BEAM_DAMAGE",
    "Beam",
    "ExposurePlan",
    "Foretold",
    "Judgement",
    "Outlook",
    "best_split",
    "expected_measurement",
    "foresee",
    "judge_configuration",
    "own_u_to_decide",
    "pilot_measurement",
    "plan_exposure",
    "simulate",
]
