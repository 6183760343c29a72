# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings: what a referee would object to, each with its evidence and a mend."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["error", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")


@dataclass(frozen=True)
class Finding:
    """One objection. `error`: a measurement has no result; `warning`: do not trust it unread; `note`: know it."""

    severity: Severity
    measurement: str
    finding: str
    evidence: str = ""
    mend: str = ""


@dataclass
class Findings:
    """The list that a study fills, in the order in which things were found."""

    items: list[Finding] = field(default_factory=list)

    def add(self, severity: Severity, measurement: str, finding: str, evidence: str = "", mend: str = "") -> None:
        """Add a finding unless the same one already stands."""
        item = Finding(severity, measurement, finding, evidence, mend)
        if item not in self.items:
            self.items.append(item)

    def add_error(self, measurement: str, where: str, error: Exception) -> None:
        """Add an exception as a finding that names the file and row."""
        problem = getattr(error, "problem", None) or str(error) or type(error).__name__
        self.add("error", measurement, problem, where, getattr(error, "mend", ""))

    def extend(self, items: Iterable[Finding]) -> None:
        """Add the findings of a measurement, except those that stand already (what holds for the whole study)."""
        seen = set(self.items)
        for item in items:
            if item not in seen:
                seen.add(item)
                self.items.append(item)

    def sorted(self) -> list[Finding]:
        """Errors first, then warnings, then notes; otherwise in order of finding."""
        return sorted(self.items, key=lambda item: SEVERITIES.index(item.severity))
