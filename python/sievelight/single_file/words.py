# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study says of its rows and table, in the words of a call that has neither."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.findings import Finding

T = TypeVar("T")

# The beginning of a finding, and how it is mended here.
MENDS = {
    "The geometry is the nominal one": "Give the calibrant's frames, or an instrument file with distance_u_mm, as calibrate "
    "prints it; until then sizes carry the nominal distance's unknown error.",
    "Intensities are relative": "Give the standard's frames with its transmission and thickness, or those of the empty "
    "direct beam with the attenuator's transmission.",
    "No transmission is known": "Give the transmission, or frames of the direct beam with it and without it.",
}
PLAIN = (
    (" (row 0)", ""),
    ("The study file leaves geometry open; taken from the frame's file", "Geometry taken from the frame's file"),
    ("[instrument] in the study file", "[instrument] in the instrument file"),
    ("the study's is", "[instrument] says"),
    ("the study's mask", "the mask"),
    ("Write glassy carbon or water in its column `material`", "Give glassy carbon or water"),
    ("Write e.g. silver behenate in its column `material`", "Give e.g. silver behenate"),
    ("Check whether sample and background rows are swapped", "Check whether sample and background are swapped"),
    ("Give exposure_s in the table or when opening the file", "Give exposure_s"),
    ("Check `frames` and `file` of that row", "Check `frames`"),
)


def plain(text: str) -> str:
    """A sentence without rows and tables."""
    for theirs, ours in PLAIN:
        text = text.replace(theirs, ours)
    return text


def plain_finding(f: Finding, sample: str) -> Finding:
    """A finding in the words of this call; what concerned the study concerns the sample."""
    mend = next((mend for start, mend in MENDS.items() if f.finding.startswith(start)), f.mend)
    of = sample if f.measurement == "study" else f.measurement
    return replace(f, measurement=of, finding=plain(f.finding), evidence=plain(f.evidence), mend=plain(mend))


def in_plain_words(call: Callable[[], T]) -> T:
    """What a call returns; its errors keep their kind and lose the words of a table."""
    try:
        return call()
    except SIEVELIGHT_ERRORS as error:
        problem = plain(getattr(error, "problem", str(error)))
        mend = plain(getattr(error, "mend", ""))
        again = type(error)(f"{problem}\n{mend}")
        again.problem, again.mend = problem, mend
        raise again from error
