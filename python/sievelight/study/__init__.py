# SPDX-License-Identifier: GPL-3.0-or-later
"""A study: the measurement table, resumable runs and the record.

`run_study("study.toml")` does the whole job and returns a `StudyResult`; its `executor` shares the samples out.
`check_record("results/record.json")` says whether inputs changed and whether the numbers come out again.
"""

from sievelight.study.cluster import cluster_crew
from sievelight.study.crew import LocalCrew
from sievelight.study.follow import Followed, follow_study
from sievelight.study.planning import StudyPlan, plan_study
from sievelight.study.record import RecordCheck, check_record
from sievelight.study.results import SampleResult, StudyResult
from sievelight.study.run import run_study

__all__ = [
    "Followed",
    "LocalCrew",
    "RecordCheck",
    "SampleResult",
    "StudyPlan",
    "StudyResult",
    "check_record",
    "cluster_crew",
    "follow_study",
    "plan_study",
    "run_study",
]
