# SPDX-License-Identifier: GPL-3.0-or-later
"""A study: the measurement table, resumable runs and the record.

`run_study("study.toml")` does the whole job and returns a `StudyResult`.
"""

from sievelight.study.follow import Followed, follow_study
from sievelight.study.planning import StudyPlan, plan_study
from sievelight.study.results import SampleResult, StudyResult
from sievelight.study.run import run_study

__all__ = ["Followed", "SampleResult", "StudyPlan", "StudyResult", "follow_study", "plan_study", "run_study"]
