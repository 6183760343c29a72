# SPDX-License-Identifier: GPL-3.0-or-later
"""The absolute scale of a study, from a standard or from the attenuated direct beam; where there are several routes to
it, they are held against each other."""

from __future__ import annotations

import math
from typing import Any

from sievelight import reduce
from sievelight._core import Factor
from sievelight.errors import SIEVELIGHT_ERRORS, input_error
from sievelight.study.findings import Findings
from sievelight.study.loading import where
from sievelight.study.reduction import absolute
from sievelight.study.shared import Shared
from sievelight.study.table import Measurement
from sievelight.study.transmissions import beam_radius_px


def absolute_scale(shared: Shared, sound: dict[str, Measurement], findings: Findings) -> None:
    standards = [m for m in sound.values() if m.role == "standard" and m.name in shared.averaged]
    beam = _empty_direct_beam(shared, sound)
    wanted = shared.settings.reduce.absolute_scale_from or ("standard" if standards else "direct_beam")
    row = next(iter(standards), None) if wanted == "standard" else beam
    if row is None:
        findings.add(
            "warning",
            "study",
            "Intensities are relative: no standard gives an absolute scale.",
            "",
            "Add a row of role standard (material glassy carbon or water) with its thickness and transmission, or a "
            "direct_beam row with attenuator_transmission that the empty_beam row names.",
        )
        return
    try:
        k, words = _from_standard(shared, row, findings) if wanted == "standard" else _from_direct_beam(shared, row)
        for warning in k.warnings:
            findings.add("warning", row.name, warning)
        shared.scale = k.factor
        shared.scale_facts = {
            "factor": k.factor.value,
            "relative_u": k.relative_u,
            "chi2_per_point": k.chi2_per_point,
            "words": words,
        }
    except SIEVELIGHT_ERRORS as error:
        findings.add_error(row.name, where(row, shared.settings), error)
        return
    others = [m for m in [*standards, *_solvents(shared, sound), *([beam] if beam is not None else [])] if m is not row]
    for other in others:
        _cross_check(shared, row, k.factor, other, findings)


def _solvents(shared: Shared, sound: dict[str, Measurement]) -> list[Measurement]:
    """Dispersants of plain water: their level is known, so each is one more way to the scale."""
    return [
        m
        for m in sound.values()
        if m.role == "dispersant"
        and m.name in shared.averaged
        and m.text.get("material", "").strip().lower() == "water"
        and m.get("temperature_C") is not None
        and m.get("thickness_mm") is not None
    ]


APART = 0.02  # a scale is quoted to a few percent: less than this is nobody's concern (common practice)


def _cross_check(shared: Shared, row: Measurement, factor: Factor, other: Measurement, findings: Findings) -> None:
    """The scale in use against another way to it; errors that both have in common cancel."""
    try:
        found = (
            _from_direct_beam(shared, other)[0]
            if other.role == "direct_beam"
            else _from_standard(shared, other, Findings())[0]
        )
    except SIEVELIGHT_ERRORS:
        return  # this way is closed, which is no fault of the scale in use
    ratio = found.factor.value / factor.value
    u = relative_u_of_ratio(factor, found.factor, same_table=_table(row) == _table(other))
    said = f"'{other.name}' gives {ratio:.3f} ± {ratio * u:.2g} of the scale that '{row.name}' gives"
    apart = abs(math.log(ratio)) > max(3 * u, APART) if ratio > 0 else True
    shared.scale_facts["words"] += f" {said}{', which does not agree' if apart else ''}."
    if apart:
        mend = (
            "Check thickness, transmission and position of the standard, the monitor in both, and the attenuator's "
            "transmission at this wavelength. "
            'Say which one holds: [reduce] absolute_scale_from = "standard" or "direct_beam".'
        )
        if other.role == "direct_beam" or row.role == "direct_beam":
            mend += (
                " Measure the direct beam again only through the instrument's interlocked procedure and the radiation-safety "
                "officer's rules, the attenuator checked first: the direct beam damages detectors."
            )
        findings.add("warning", other.name, "Two ways to the absolute scale disagree.", said, mend)


def _table(m: Measurement) -> str:
    """Which certified numbers a scale rests on."""
    return "" if m.role == "direct_beam" else m.text.get("material", "").replace(" ", "").lower()


def relative_u_of_ratio(a: Factor, b: Factor, *, same_table: bool) -> float:
    """Relative standard uncertainty of b / a: a cause that both carry moves both. Counts are each one's own, and a table is
    common where both rest on the same one."""
    own = {"absolute scale: counts"} | (set() if same_table else {"absolute scale: table"})
    mine, theirs = ({cause: u / f.value for cause, u in dict(f.causes).items()} for f in (a, b))
    total = sum(mine.get(c, 0.0) ** 2 + theirs.get(c, 0.0) ** 2 for c in own)
    total += sum((theirs.get(c, 0.0) - mine.get(c, 0.0)) ** 2 for c in {*mine, *theirs} - own)
    return math.sqrt(total)


def _empty_direct_beam(shared: Shared, sound: dict[str, Measurement]) -> Measurement | None:
    """The direct-beam row of the empty beam, where its attenuator is known."""
    for m in sound.values():
        name = m.reference("direct_beam") if m.role == "empty_beam" else None
        if name in shared.beams and shared.beam_rows[name].get("attenuator_transmission") is not None:
            return shared.beam_rows[name]
    return None


def _from_direct_beam(shared: Shared, m: Measurement) -> tuple[Any, str]:
    g = shared.geometry
    frame = shared.beams[m.name].total
    incident = m.get("incident_intensity")
    if incident is not None:
        frame.monitor = incident * frame.exposure_s
    attenuator = (m.values["attenuator_transmission"], m.u.get("attenuator_transmission", 0.0))
    k = reduce.scale_from_direct_beam(
        m.name,
        frame,
        beam_center_px=(g.beam_center_x_px, g.beam_center_y_px),
        radius_px=beam_radius_px(shared.settings),
        attenuator=attenuator,
        by_monitor=shared.normalize_by == "monitor",
        geometry=g,
        **{key: value for key, value in shared.corrections.items() if key != "flat_field"},
    )
    words = (
        f"The absolute scale comes from the direct beam '{m.name}' behind an attenuator of transmission {attenuator[0]:.4g} "
        f"(B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800): relative standard uncertainty {100 * k.relative_u:.2f} %."
    )
    return k, words


def _from_standard(shared: Shared, m: Measurement, findings: Findings) -> tuple[Any, str]:
    material = m.text.get("material", "").replace(" ", "").lower()
    if material not in ("glassycarbon", "water"):
        raise input_error(
            f"the standard '{m.name}' (row {m.row}) is of '{m.text.get('material', '')}'; known are glassy carbon (SRM 3600) and water.",
            "Write glassy carbon or water in its column `material`.",
        )
    if m.get("thickness_mm") is None:
        raise input_error(
            f"the standard '{m.name}' (row {m.row}) has no thickness_mm.",
            "SRM 3600 is 1.055 mm thick; measure the strip used (of water: the cell's inner thickness).",
        )
    if material == "glassycarbon" and shared.slit is not None:
        raise input_error(
            f"the standard '{m.name}' (row {m.row}) is glassy carbon, whose table is of a pinhole; the beam is a line.",
            "Use water, whose curve is flat and stays so, or the attenuated direct beam.",
        )
    _, measured = absolute(shared, m, shared.averaged[m.name], findings)
    if material == "water":
        temperature = m.get("temperature_C")
        if temperature is None:
            raise input_error(
                f"the standard '{m.name}' (row {m.row}) has no temperature_C.", "Give the water's temperature."
            )
        k = reduce.absolute_scale(measured, standard=reduce.water_standard(temperature))
        source = (
            "water (G. S. Kell, J. Chem. Eng. Data 20 (1975) 97; D. Orthaber et al., J. Appl. Cryst. 33 (2000) 218)"
        )
        share = "0.32 % is that of its compressibility"
    else:
        k = reduce.absolute_scale(measured)
        source = "the glassy-carbon standard (NIST SRM 3600; A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462)"
        share = "2.58 % is the certificate's"
    words = (
        f"The absolute scale comes from {source}, '{m.name}', over {k.q_range_per_nm.low:.3g} … {k.q_range_per_nm.high:.3g} 1/nm: "
        f"relative standard uncertainty {100 * k.relative_u:.2f} %, of which {share} and common to all points; χ² per point of its shape {k.chi2_per_point:.2f}."
    )
    return k, words
