# SPDX-License-Identifier: GPL-3.0-or-later
"""Times of several ways to do one thing, taken in turn, and what a row of the table is.

What disturbs a machine (another program, a warm processor) disturbs neighbours in time alike: the ways take turns, and
ratios are medians of the ratios of neighbours. Results are checked before anything is timed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from statistics import median
from typing import Any


def interleave(ways: Mapping[str, Callable[[], Any]], repeats: int, *, warm: int = 1) -> dict[str, list[float]]:
    """Seconds of every way, `repeats` of each, one after the other in turn."""
    for _ in range(warm):
        for way in ways.values():
            way()
    times: dict[str, list[float]] = {name: [] for name in ways}
    for k in range(repeats):
        names = list(ways)
        # Each way follows each other one equally often: who comes behind a memory-hungry neighbour finds a cold cache.
        for name in names[k % len(names) :] + names[: k % len(names)]:
            begun = time.perf_counter()
            ways[name]()
            times[name].append(time.perf_counter() - begun)
    return times


def ratio(times: Mapping[str, list[float]], above: str, below: str) -> float:
    """Median of above/below over the turns."""
    return median(a / b for a, b in zip(times[above], times[below]))


@dataclass
class Target:
    """One bound of the row: `value` should be at least or at most `bound`."""

    what: str
    value: float
    bound: float
    at_least: bool
    must: bool = True  # False: what is reached for

    @property
    def met(self) -> bool:
        """Whether the bound holds."""
        return self.value >= self.bound if self.at_least else self.value <= self.bound


@dataclass
class Row:
    """One line of the table; times in seconds."""

    work: str
    ours: float
    others: dict[str, float] = field(default_factory=dict)  # peers and limits, by name
    targets: list[Target] = field(default_factory=list)
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        out = asdict(self)
        for target, made in zip(self.targets, out["targets"]):
            made["met"] = target.met
        return out


def row(work: str, times: Mapping[str, list[float]], *, per: int = 1, note: str = "", unit_ours: str = "ours") -> Row:
    """A row from interleaved times; `per` divides them, e.g. by the number of frames."""
    return Row(
        work,
        median(times[unit_ours]) / per,
        {name: median(t) / per for name, t in times.items() if name != unit_ours},
        note=note,
    )


def require(agree: bool, what: str) -> None:
    """Stop the benchmark on a wrong result."""
    if not agree:
        raise AssertionError(f"The results do not agree: {what}.")


def seconds(value: float) -> str:
    """A time in words: 1.23 ms, 4.5 s."""
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if value >= size or unit == "µs":
            return f"{value / size:.3g} {unit}"
    return ""


def table(rows: list[Row]) -> str:
    """The rows as a Markdown table."""
    lines = ["| work | ours | beside it | targets |", "|---|---|---|---|"]
    for r in rows:
        beside = "; ".join(f"{name} {seconds(value)}" for name, value in r.others.items()) or "–"
        targets = []
        for t in r.targets:
            sign = "≥" if t.at_least else "≤"
            verdict = ("met" if t.met else "**missed**") if t.must else ("reached" if t.met else "not reached")
            targets.append(
                f"{t.what} {t.value:.3g} ({'must' if t.must else 'reach for'} {sign} {t.bound:g}): {verdict}"
            )
        ours = seconds(r.ours) if r.ours == r.ours else "–"
        lines.append(
            f"| {r.work}{f' ({r.note})' if r.note else ''} | {ours} | {beside} | {'; '.join(targets) or '–'} |"
        )
    return "\n".join(lines)
