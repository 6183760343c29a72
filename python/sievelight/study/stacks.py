# SPDX-License-Identifier: GPL-3.0-or-later
"""A stack of which every exposure is a measurement of its own: `each` in the frames cell."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path

from sievelight import frames
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.findings import Findings
from sievelight.study.table import Measurement, each_of, parse_frames


def expand_stacks(table: list[Measurement], folder: Path) -> list[Measurement]:
    """One measurement an exposure for rows that say `each`, named name-000 and so on; their series is the row's name.

    `time_s` of the row is that of the stack's exposure 0, and `time_step_s` is added from one to the next. A file that cannot
    be opened becomes a problem of the row.
    """
    out: list[Measurement] = []
    for m in table:
        wanted = [each_of(chosen) for _, chosen in m.files]
        if all(w is None for w in wanted):
            out.append(m)
            continue
        if len(m.files) > 1:
            m.problems.append(
                (f"row {m.row}: '{m.name}' says `each` and has several rows.", "Give every stack a name of its own.")
            )
            out.append(m)
            continue
        file, _chosen = m.files[0]
        try:
            numbers = parse_frames(wanted[0] or "")
            if numbers is None:
                opened = frames.open_frames(folder / file, dataset=m.text.get("dataset") or None)
                numbers = list(range(len(opened)))
        except SIEVELIGHT_ERRORS as error:
            m.problems.append(
                (f"row {m.row}, file {file}: {getattr(error, 'problem', error)}", getattr(error, "mend", ""))
            )
            out.append(m)
            continue
        digits = max(3, len(str(numbers[-1] if numbers else 0)))
        step = m.values.get("time_step_s")
        for number in numbers:
            one = deepcopy(m)
            one.name = f"{m.name}-{number:0{digits}d}"
            one.files = [(file, str(number))]
            one.text["frames"] = str(number)
            one.text.setdefault("series", m.name)
            if step is not None:
                one.values["time_s"] = m.values.get("time_s", 0.0) + number * step
            out.append(one)
    return out


def leave_batches(table: list[Measurement], findings: Findings) -> None:
    """Frames of a series are measurements of one sample: as samples of a batch each would count as another one."""
    for m in table:
        if m.text.get("series") and m.batch:
            findings.add(
                "note",
                m.text["series"],
                "The frames of this series take no part in the comparison of batches: they are of one sample.",
                f"batch {m.batch}",
                "For the comparison, give the sample a row of its own without `series`.",
            )
            m.text.pop("batch")
