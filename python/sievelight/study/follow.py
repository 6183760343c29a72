# SPDX-License-Identifier: GPL-3.0-or-later
"""`sievelight plan study.toml --follow`: frames as they arrive, until the target precision is reached. It only advises.

Looks come after 1, 2, 4, ... frames, and sooner where the last look says that the target is nearer. What stops is the
precision, never the value or a verdict, so looking often makes no result false.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from sievelight import distribution, frames
from sievelight._core import Curve
from sievelight.errors import SIEVELIGHT_ERRORS, DataError, input_error, nearest
from sievelight.plan import BEAM_DAMAGE
from sievelight.plan.exposure import attribute_of, duration
from sievelight.study.findings import Findings
from sievelight.study.loading import load
from sievelight.study.planning import target_of
from sievelight.study.sample import inversion_options, reduce_sample
from sievelight.study.settings import read_settings
from sievelight.study.shared_rows import prepare_shared
from sievelight.study.table import Measurement, read_table

ADVICE = (
    "This is advice: the program moves no shutter. End the exposure, if at all, at the instrument and by its own procedure. "
    "It speaks of the precision alone, not of any verdict."
)
GAIN = 0.41  # x50 falls as counts^-0.41 until two looks say otherwise


@dataclass(frozen=True)
class Look:
    """What the frames so far tell."""

    frames: int
    exposure_s: float
    value: float
    u_percent: float


@dataclass
class Followed:
    """How a measurement that was followed went."""

    name: str
    quantity: str
    target_percent: float
    looks: list[Look] = field(default_factory=list)
    reached: bool = False
    ended: str = ""  # why, in words

    def lines(self) -> list[str]:
        """What to tell the person at the instrument."""
        return [self.ended, *([ADVICE] if self.reached else [])]

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "name": self.name,
            "quantity": self.quantity,
            "target_percent": self.target_percent,
            "reached": self.reached,
            "ended": self.ended,
            "looks": [look.__dict__ for look in self.looks],
        }

    def __repr__(self) -> str:
        return f"<Followed: {self.name}, {len(self.looks)} looks, {self.ended}>"


def _arrived(place: Path, dataset: str | None, known: int) -> tuple[int, list[str]]:
    """How many frames can be read now; of a folder also its files, in the order of their names."""
    if place.is_dir():
        files = sorted(f for f in place.iterdir() if f.is_file() and not f.name.startswith("."))
        whole: list[str] = []
        for f in files:
            if len(whole) >= known:  # earlier ones were opened before
                try:
                    frames.open_frames(f, dataset=dataset)
                except SIEVELIGHT_ERRORS:
                    break  # still being written
            whole.append(f.name)
        return len(whole), whole
    try:
        return frames.open_frames(place, dataset=dataset).count, []
    except SIEVELIGHT_ERRORS:
        return 0, []


def _row_to_follow(rows: list[Measurement], name: str | None, table: str) -> Measurement:
    samples = [m for m in rows if m.role == "sample"]
    if not samples:
        raise input_error(f"{table} has no row of role sample to follow.", "Add the row before its frames arrive.")
    if name is None:
        return samples[-1]
    found = [m for m in samples if m.name == name]
    if not found:
        raise input_error(f"there is no sample '{name}' to follow.", nearest(name, [m.name for m in samples]))
    return found[0]


def _next_look(looks: list[Look], target_percent: float) -> int:
    """Twice as many frames, or fewer where the target should come first."""
    last = looks[-1]
    power: float = GAIN
    if len(looks) > 1 and looks[-2].u_percent > last.u_percent:
        power = math.log(looks[-2].u_percent / last.u_percent) / math.log(last.frames / looks[-2].frames)
        power = min(max(power, 0.25), 0.6)
    wanted = last.frames * (last.u_percent / target_percent) ** (1 / power)
    return int(max(last.frames + 1, min(2 * last.frames, math.ceil(wanted))))


def follow_study(
    path: str | Path,
    *,
    name: str | None = None,
    poll_s: float = 2.0,
    patience_s: float = 600.0,
    most_frames: int | None = None,
    tell: Callable[[str], None] | None = None,
    stop: threading.Event | None = None,
) -> Followed:
    """Follow one sample's frames as they arrive and say when the target precision of [plan] is reached.

    Parameters
    ----------
    path : the study file, with target_percent or decide_margin_percent in [plan].
    name : the sample row to follow; default the last one. Its `file` is a stack that grows or a folder that fills.
    poll_s : seconds between looks for new frames.
    patience_s : give up when no frame has come for so long.
    most_frames : stop there at the latest.
    tell : called with a sentence at every look.
    stop : set it to end from another thread; Ctrl-C ends too. Nothing is lost: nothing is written.

    Returns
    -------
    Followed
        With all looks; `reached` says whether the target precision was.

    Raises
    ------
    InputError
        No target, or no such sample. Frames that cannot be read yet are waited for.

    Examples
    --------
    >>> import sievelight as sl
    >>> followed = sl.follow_study(sl.examples.study("invented"), name="1a", most_frames=4)
    >>> followed.name, followed.looks[-1].frames, len(followed.lines()) > 0
    ('1a', 4, True)
    """
    path = Path(path)
    settings = read_settings(path)
    target, differences = target_of(settings, path.name)
    rows = [m for m in read_table(path.parent / settings.study.measurements) if not m.problems]
    row = _row_to_follow(rows, name, settings.study.measurements)
    say = tell or (lambda text: None)
    say_once: set[str] = set()
    findings = Findings()
    shared = prepare_shared(
        settings,
        path.parent,
        {m.name: m for m in rows if m.role not in ("sample", "curve")} | {row.name: row},
        findings,
    )
    quantity = settings.plan.quantity
    out = Followed(row.name, quantity, target)
    place, dataset = path.parent / row.files[0][0], row.text.get("dataset")
    seen, wanted, last_new = 0, 1, time.monotonic()
    try:
        while not (stop is not None and stop.is_set()):
            count, files = _arrived(place, dataset, seen)
            if count > seen:
                seen, last_new = count, time.monotonic()
            enough = most_frames is not None and seen >= most_frames
            if seen >= wanted or (enough and seen and (not out.looks or out.looks[-1].frames < seen)):
                parts = [(str(Path(row.files[0][0]) / f), "") for f in files] or [(row.files[0][0], f"0-{seen - 1}")]
                try:
                    now = replace(row, files=parts)
                    loaded = load(now, path.parent, settings)
                    result = reduce_sample(shared, now, Findings(), loaded=loaded)
                    options = inversion_options(settings, row, result.curve.unit, Findings(), slit=shared.slit)
                    options["method"] = "sampled"
                    size = distribution.invert(result.curve, **options)
                except DataError:
                    seen, size = (
                        min(seen, wanted - 1),
                        None,
                    )  # a frame changed under our eyes: once more at the next poll
                except (ArithmeticError, ValueError) as error:  # too few counts for an answer yet
                    size = None
                    wanted = 2 * seen
                    text = str(getattr(error, "problem", error)).splitlines()[0]
                    if text not in say_once:
                        say(f"{seen} frames: no sizes yet ({text})")
                        say_once.add(text)
                if size is not None:
                    _note(out, result.curve, size, (seen, float(loaded.total.exposure_s)), differences, say)
                    if out.looks[-1].u_percent <= target:
                        out.reached = True
                        look = out.looks[-1]
                        out.ended = f"The target is reached after {look.frames} frames, {duration(look.exposure_s)}: {quantity} is known to {look.u_percent:.2g} %."
                        return out
                    wanted = _next_look(out.looks, target)
            if enough:
                out.ended = f"{seen} frames have come and {quantity} is not yet known to {target:.2g} %."
                return out
            if time.monotonic() - last_new > patience_s:
                out.ended = f"No frame has come for {duration(patience_s)}; {seen} were seen."
                return out
            if stop is not None:
                stop.wait(poll_s)
            else:
                time.sleep(poll_s)
    except KeyboardInterrupt:
        pass
    out.ended = f"Stopped after {seen} frames; the target was not yet reached."
    return out


def _note(
    out: Followed, curve: Curve, size: Any, so_far: tuple[int, float], differences: bool, say: Callable[[str], None]
) -> None:
    name = attribute_of(out.quantity)
    estimate = getattr(size, name)
    u2 = estimate.u**2
    if differences:  # what calibration puts into every sample alike cancels
        influence = np.asarray(size.influence[name])
        u2 -= sum(float(influence @ np.asarray(c.u)) ** 2 for c in curve.causes.values() if c.kind == "coherent")
    count, seconds = so_far
    look = Look(count, seconds, float(estimate.value), 100 * math.sqrt(max(u2, 0.0)) / abs(estimate.value))
    out.looks.append(look)
    text = f"{out.name}: {count} frames, {duration(seconds)}: {out.quantity} known to {look.u_percent:.2g} %, wanted {out.target_percent:.2g} %."
    if look.u_percent > out.target_percent and len(out.looks) == 4:  # it takes long by now
        text += f" {BEAM_DAMAGE}"
    say(text)
