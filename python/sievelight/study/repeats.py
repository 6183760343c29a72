# SPDX-License-Identifier: GPL-3.0-or-later
"""Repeated exposures of one measurement: spikes masked, exposures that differ set aside, each with a finding."""

from __future__ import annotations

from typing import Any

from sievelight import reduce
from sievelight.errors import InputError
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def mask_spikes(settings: Settings, m: Measurement, loaded: Loaded, findings: Findings) -> None:
    """Pixels that one exposure alone counts high go into that exposure's mask."""
    if not settings.reduce.remove_spikes or len(loaded.exposures) < 2:
        return
    spikes = loaded.spikes
    if loaded.block == 1:
        report = reduce.find_spikes(loaded.exposures)
        for exposure, mask in zip(loaded.exposures, report.masks):
            exposure.add_mask(mask)
        loaded.__dict__.pop("total", None)
        spikes = report.spikes
    if not spikes:
        return
    first = spikes[0]
    findings.add(
        "note",
        m.name,
        f"{len({(x.row, x.column) for x in spikes})} pixels are left out because one exposure counts far more there than the others.",
        f"{len(spikes)} spikes in {loaded.singles} exposures; exposure {first.exposure}{' of its block' if loaded.block > 1 else ''}, column {first.column}, "
        f"row {first.row}: {first.counts:g} counts where {first.expected:.2g} are expected; "
        f"a hundredth of a false one is expected an exposure",
        "Cosmic hits do this; many at one place are a defect to be masked.",
    )


def keep_repeats(
    settings: Settings, m: Measurement, exposures: list[Any], average_one: Any, carried_u: float, findings: Findings
) -> list[Any]:
    """The exposures that are repeats of each other; those that are not become a finding.

    average_one : from an exposure to its Averaged.  carried_u : relative scatter the monitor's uncertainty allows.
    """
    s = settings.reduce
    if not s.compare_repeats or len(exposures) < 2:
        return exposures
    try:
        report = reduce.compare_repeats(
            [average_one(e) for e in exposures],
            alpha=s.repeat_alpha,
            scale_relative_u=max(s.repeat_scale_u, carried_u),
        )
    except InputError as error:
        findings.add("note", m.name, f"The exposures could not be compared with each other: {error.problem}")
        return exposures
    aside = set(report.set_aside)
    kept = [e for i, e in enumerate(exposures) if i not in aside]
    for sentence in report.findings:
        findings.add(
            "warning",
            m.name,
            sentence,
            f"{len(kept)} of {len(exposures)} exposures are used; chance of any false claim {s.repeat_alpha:g}; "
            f"scatter of the beam allowed {max(s.repeat_scale_u, carried_u):.2g}",
            "Look at the exposures one by one: a bubble, drift, damage by the beam. The `frames` cell chooses exposures; "
            "[reduce] compare_repeats = false uses all.",
        )
    return kept
