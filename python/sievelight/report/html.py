# SPDX-License-Identifier: GPL-3.0-or-later
"""Fill the report's page: pictures as SVG inside the file, everything escaped, no external resource."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from sievelight import plot
from sievelight.files import write_text
from sievelight.report import words
from sievelight.report.gallery import Gallery
from sievelight.report.methods import methods_text
from sievelight.report.series import in_series, series_sections
from sievelight.study.hold import output_held
from sievelight.study.outputs import SUMMARY_ESTIMATES
from sievelight.study.results import SampleResult, StudyResult

MOST_PICTURES = 24  # of one kind: a page of hundreds opens slowly and is read by nobody


def _batch_pictures(result: StudyResult, gallery: Gallery) -> dict[str, Any]:
    comparison = result.comparison
    if comparison is None:
        return {}
    label, unit = words.label_and_unit(result.quantity)

    def draw(ax: Any) -> None:
        result.plot(ax=ax, label=f"{label} / {unit}" if unit else label)

    pairs = {p.batch: p for p in comparison.pairs}
    rows = []
    for b in comparison.batches:
        p = pairs.get(b.batch)
        rows.append(
            {
                "name": b.batch,
                "samples": b.samples,
                "mean": words.with_u(b.mean.value, b.mean.u),
                "interval": words.interval(b.mean.band95.low, b.mean.band95.high, unit),
                "sd": "–" if math.isnan(b.between_sample_sd) else f"{b.between_sample_sd:.2g}",
                "difference": "" if p is None else words.signed_percent(p.difference_percent),
                "difference_interval": ""
                if p is None
                else words.percent_interval(p.difference_percent_low, p.difference_percent_high),
                "significant": "" if p is None else ("yes" if p.difference_significant else "no"),
                "verdict": "reference" if p is None else p.verdict,
                "reason": "" if p is None else p.reason,
            }
        )
    said = (
        "Every sample with its 95 % interval; black: the batch mean with its own. "
        f"Grey band: ±{comparison.margin_percent:g} % around {comparison.reference}."
    )
    return {
        "batches": rows,
        "picture": gallery.draw("batches", said, draw, (7.2, 3.2)),
        "quantity_label": label,
        "reference": comparison.reference,
    }


def _beside_the_verdict(result: StudyResult) -> dict[str, Any]:
    """Rows of further quantities, distances and recipes, and what would decide the undecided."""
    further = result.further
    if further is None:
        return {"quantities": [], "distances": [], "routes": [], "next": {}}

    def pairs(comparison: Any) -> list[dict[str, str]]:
        return [
            {
                "quantity": words.label_and_unit(comparison.quantity)[0],
                "name": p.batch,
                "reference": p.reference,
                "difference": words.signed_percent(p.difference_percent),
                "interval": words.percent_interval(p.difference_percent_low, p.difference_percent_high),
                "significant": "yes" if p.difference_significant else "no",
                "verdict": p.verdict,
                "reason": p.reason,
            }
            for p in comparison.pairs
        ]

    return {
        "quantities": [row for comparison in further.quantities for row in pairs(comparison)],
        "distances": [
            {
                "name": batch,
                "value": f"{d.value_nm:.2g} nm",
                "interval": words.interval(d.interval95_nm.low, d.interval95_nm.high, "nm"),
                "noise": f"{d.noise_nm:.2g} nm",
            }
            for batch, d in further.distances.items()
        ],
        "routes": pairs(further.routes) if further.routes is not None else [],
        "next": further.next_experiment,
    }


def _drawn(result: StudyResult, names: list[str]) -> set[str]:
    """Which of many get a picture: those with a warning first, then in the table's order."""
    warned = {f.measurement for f in result.findings if f.severity != "note"}
    return set(sorted(names, key=lambda name: name not in warned)[:MOST_PICTURES])


def _rest(drawn: int, of: int, where: str) -> str:
    return f"{drawn} of {of} are drawn, those with a warning first; {where}" if drawn < of else ""


def _size_pictures(result: StudyResult, gallery: Gallery) -> tuple[list[dict[str, str]], str]:
    """A picture a batch, and one for every sample of no batch; what is not drawn, in words."""
    followed = in_series(result)
    groups: dict[str, list[SampleResult]] = {}
    for s in result.samples:
        if s.size is not None and s.name not in followed:
            groups.setdefault(s.batch or s.name, []).append(s)
    # One scale for all, so that heights and places compare by eye.
    top = max((float(np.max(s.size.q3_high95)) for g in groups.values() for s in g if s.size), default=1.0)
    pictures, drawn = [], _drawn(result, list(groups))
    for number, (name, members) in enumerate(groups.items()):
        if name not in drawn:
            continue

        def draw(ax: Any, members: list[SampleResult] = members, number: int = number) -> None:
            for s in members:
                plot.plot_distribution(s.size, ax=ax, color=number, label=s.name, percentiles=len(members) == 1)
            ax.set_ylim(0, 1.05 * top)

        together = ", ".join(s.name for s in members)
        words = f"{name}: {together}; bands 68 % and 95 %." if members[0].batch else f"{name}; bands 68 % and 95 %."
        pictures.append(gallery.draw(f"sizes-{name}", words, draw, (4.6, 3.0)))
    return pictures, _rest(
        len(pictures), len(groups), "the folder distributions/ holds the others, and summary.csv their numbers."
    )


def _curve_pictures(result: StudyResult, gallery: Gallery) -> tuple[list[dict[str, str]], str]:
    """A picture a sample that no series draws; what is not drawn, in words."""
    followed = in_series(result)
    alone = [s for s in result.samples if s.name not in followed]
    batches = list(dict.fromkeys(s.batch for s in alone))
    pictures, drawn = [], _drawn(result, [s.name for s in alone])
    for s in alone:
        if s.name not in drawn:
            continue
        color = batches.index(s.batch)
        if s.size is None:
            pictures.append(_bare_curve(s, color, gallery))
        else:
            pictures.append(_fitted_curve(s, s.size, color, gallery))
        if "azimuth" in s.details:
            pictures += [_azimuth(s, color, gallery), _azimuth_map(s, gallery)]
    return pictures, _rest(len(drawn), len(alone), "the folder curves/ holds the others.")


def _fitted_curve(s: SampleResult, size: Any, color: int, gallery: Gallery) -> dict[str, str]:
    def draw(axes: Any) -> None:
        upper, lower = axes
        plot.plot_curves({s.name: s.curve}, ax=upper, color=color)
        upper.fill_between(size.q_per_nm, size.fit_low95, size.fit_high95, color="0.6", lw=0, zorder=4)
        upper.plot(size.q_per_nm, size.fit, color="black", lw=0.9, zorder=5, label="fit")
        upper.legend()
        upper.set_xlabel("")
        plot.plot_residuals(size.q_per_nm, size.residual, ax=lower, color=color)

    words = f"{s.name}: intensity with its 68 % band, fit, residuals; χ² per point {size.chi2_per_point:.2f}."
    return gallery.draw(f"curve-{s.name}", words, draw, (4.6, 3.9), nrows=2, sharex=True, height_ratios=[3.2, 1])


def _bare_curve(s: SampleResult, color: int, gallery: Gallery) -> dict[str, str]:
    seen = s.details.get("desmeared")

    def draw(ax: Any) -> None:
        plot.plot_curves({s.name: s.curve}, ax=ax, color=color)
        if seen:
            good = np.asarray(seen["intensity"]) > 0
            ax.plot(np.asarray(seen["q_per_nm"])[good], np.asarray(seen["intensity"])[good], "k--", lw=0.9,
                    label="desmeared, for the eye only")  # fmt: skip
        ax.legend()

    words = f"{s.name}: intensity with its 68 % band" + (f". {seen['note']}" if seen else ".")
    return gallery.draw(f"curve-{s.name}", words, draw, (4.6, 3.2))


def _azimuth(s: SampleResult, color: int, gallery: Gallery) -> dict[str, str]:
    table = s.details["azimuth"]

    def draw(ax: Any) -> None:
        plot.plot_azimuth(table["azimuth_deg"], table["intensity"], table["u"], ax=ax, color=color)

    words = f"{s.name}: intensity in the annulus against azimuth, 68 % band."
    return gallery.draw(f"azimuth-{s.name}", words, draw, (4.6, 2.6))


def _azimuth_map(s: SampleResult, gallery: Gallery) -> dict[str, str]:
    table = SimpleNamespace(**s.details["azimuth_map"])
    words = f"{s.name}: the frame over q and azimuth; rings are upright lines, grey cells hold no pixel."
    return gallery.draw(f"unrolled-{s.name}", words, lambda ax: plot.plot_q_azimuth_map(table, ax=ax), (4.6, 3.2))


# A table wider than the page helps nobody; summary.csv holds these.
ONLY_IN_CSV = {
    "surface_mean_nm", "number_mean_nm", "pore_chord_nm", "number_per_cm3", "micropore_share", "mesopore_share",
    "macropore_share",
}  # fmt: skip


def _summary_table(result: StudyResult) -> dict[str, Any] | None:
    if not result.samples:
        return None
    used = [n for n in SUMMARY_ESTIMATES if n not in ONLY_IN_CSV and any(n in s.summary for s in result.samples)]
    heads = ["sample", "transmission"]
    heads += [words.LABELS[n][0] + (f" / {words.LABELS[n][1]}" if words.LABELS[n][1] else "") for n in used]
    rows: list[list[str]] = []
    frames: list[list[str]] = []
    followed = in_series(result)
    for s in result.samples:
        row = [s.name, words.with_u(s.transmission.value, s.transmission.u)]
        row += [words.with_u(s.summary[n].value, s.summary[n].u) if n in s.summary else "–" for n in used]
        (frames if s.name in followed else rows).append(row)
    note = ""
    if "volume_fraction" in used:
        root = result.settings.distribution.root
        note = f"φ per bulk volume of the sample, the {root} root of φ(1−φ). "
    if "specific_surface_m2_per_cm3" in used:
        note += "S/V per bulk volume. "
    if "specific_surface_m2_per_g" in used:
        note += "S/m per gram of solid, with the skeletal density of the table. "
    return {"heads": heads, "rows": rows, "frames": frames, "words": note}


def _sorption(result: StudyResult) -> list[dict[str, str]]:
    """Surfaces by gas sorption, where the table has them, beside ours."""
    given = {m.name: m for m in result.measurements if m.get("sorption_surface_m2_per_g") is not None}
    rows = []
    for s in result.samples:
        m, ours = given.get(s.name), s.summary.get("specific_surface_m2_per_g")
        if m is None:
            continue
        gas, u = m.values["sorption_surface_m2_per_g"], m.u.get("sorption_surface_m2_per_g", 0.0)
        ratio = "–"
        if ours is not None and gas > 0:
            value = ours.value / gas
            ratio = words.with_u(value, value * math.hypot(ours.u / ours.value, u / gas))
        rows.append(
            {
                "name": s.name,
                "gas": words.with_u(gas, u),
                "ours": "–" if ours is None else words.with_u(ours.value, ours.u),
                "ratio": ratio,
            }
        )
    return rows


def _choices(result: StudyResult, most: int = 6) -> list[dict[str, Any]]:
    """What other choices would have moved, one table a priced sample."""
    tables = []
    for s in [s for s in result.samples if "what_if" in s.details][:most]:
        rows = s.details["what_if"]
        names = [n for n in words.LABELS if any(math.isfinite(r.get(n, math.nan)) for r in rows)]
        own = []
        for n in names:
            estimate = s.summary.get(n)
            known = estimate is not None and estimate.value
            own.append(f"± {100 * abs(estimate.u / estimate.value):.1f} %" if known and estimate else "–")
        tables.append(
            {
                "sample": s.name,
                "heads": [words.LABELS[n][0] for n in names],
                "own": own,
                "rows": [
                    {"choice": r["choice"], "note": r["note"].strip(), "cells": [words.signed_percent(100 * r[n]) for n in names],
                     "chi2": f"{r['chi2_per_point']:.2f}" if math.isfinite(r["chi2_per_point"]) else "–"}
                    for r in rows
                ],
            }
        )  # fmt: skip
    return tables


def _budget(result: StudyResult, gallery: Gallery) -> dict[str, str] | None:
    shares: dict[str, float] = {}
    with_budget = [s for s in result.samples if s.budget]
    for s in with_budget:
        for cause, share in s.budget.items():
            own = cause.replace(s.name, "the sample")
            shares[own] = shares.get(own, 0.0) + share / len(with_budget)
    if not shares:
        return None
    largest = dict(sorted(shares.items(), key=lambda item: -item[1])[:8])
    quantity, _ = words.label_and_unit(result.quantity)
    said = f"Share of the variance of {quantity} that each cause explains, averaged over the samples."
    return gallery.draw("budget", said, lambda ax: plot.plot_budget(largest, ax=ax), (7.2, 0.6 + 0.28 * len(largest)))


def _frame(calibration: dict[str, Any], gallery: Gallery) -> dict[str, str] | None:
    if "counts" not in calibration:
        return None
    return gallery.draw(
        "geometry",
        "Left: the calibrant's frame, the mask, the beam point and the rings where the refined geometry puts them (dashed). "
        "Right: how far the points of each ring lie from it.",
        lambda axes: plot.calibration(
            calibration["ring"], counts=calibration["counts"], masked=calibration["masked"], axes=axes
        ),
        (9.6, 4.6),
        ncols=2,
        width_ratios=(1.15, 1.0),
    )


def _steps(sample: SampleResult | None) -> list[dict[str, str]]:
    rows = []
    for step in sample.steps if sample else []:
        low, mid, high = (f"×{factor:.4g}" if step["applied"] else "–" for factor in step["factors"])
        what = step["parameters"] if step["applied"] else f"left out: {step['note']}"
        u = (
            " / ".join(f"{100 * x:.2g}" for x in step["relative_u"])
            if step["applied"] and any(step["relative_u"])
            else "–"
        )
        rows.append({**step, "low": low, "mid": mid, "high": high, "what": what, "u": u})
    return rows


def write_report(result: StudyResult, *, figures: str | Path | None = None) -> Path:
    """Write `report.html` into the study's output folder.

    The page is whole or absent, opens offline, and holds every picture inside itself, each with a link
    that saves it as SVG.

    Parameters
    ----------
    result : from `run_study`.
    figures : a folder to which the pictures go as SVG files besides.

    Returns
    -------
    Path
        Of the page.

    Raises
    ------
    DataError
        The page cannot be written.

    Examples
    --------
    >>> import sievelight as sl
    >>> result = sl.run_study(sl.examples.study("invented"))
    >>> sl.report.write_report(result).name
    'report.html'
    """
    from jinja2 import Environment, StrictUndefined

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    template = environment.from_string(Path(__file__).with_name("template.html.j2").read_text(encoding="utf-8"))
    gallery = Gallery()
    batch = _batch_pictures(result, gallery)
    size_pictures, size_rest = _size_pictures(result, gallery)
    curve_pictures, curve_rest = _curve_pictures(result, gallery)
    calibration = result.calibration
    windows = {(s.size.window_nm.low, s.size.window_nm.high) for s in result.samples if s.size}
    window = "–"
    if windows:
        window = f"{max(w[0] for w in windows):.3g} and {min(w[1] for w in windows):.3g}"
    stepped = next((s for s in result.samples if s.steps), None)
    page = template.render(
        title=result.settings.study.title,
        version=result.record["versions"]["sievelight"],
        made=result.record["made"],
        answer=words.answer(result),
        batches=batch.get("batches", []),
        quantity_label=batch.get("quantity_label", ""),
        beside=_beside_the_verdict(result),
        reference=batch.get("reference", ""),
        margin=f"{result.settings.compare.margin_percent:g}",
        looks=", ".join(map(str, result.settings.compare.looks)),
        confidence=f"{100 * (1 - 2 * result.settings.compare.alpha):g}",
        pictures={
            "batches": batch.get("picture"),
            "budget": _budget(result, gallery),
            "frame": _frame(calibration, gallery),
        },
        size_pictures=size_pictures,
        size_rest=size_rest,
        window=window,
        smoothing=next((f"{s.size.smoothing_ln_d:g}" for s in result.samples if s.size), "–"),
        summary=_summary_table(result),
        choices=_choices(result),
        sorption=_sorption(result),
        series=series_sections(result, gallery),
        findings=result.findings,
        curve_pictures=curve_pictures,
        curve_rest=curve_rest,
        geometry=calibration.get("lines", []),
        steps=_steps(stepped),
        steps_of=stepped.name if stepped else "",
        methods=methods_text(result),
        inputs=result.record["inputs"],
        versions=", ".join(f"{name} {version}" for name, version in result.record["versions"].items()),
    )
    with output_held(result.output):
        write_text(result.report, page)
        if figures is not None:
            gallery.save(Path(figures))
    return result.report
