# SPDX-License-Identifier: GPL-3.0-or-later
"""What a report shows of a series: a sentence, the quantity along its variable, the filled share with Kelvin's law beside
it, curves from first to last."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sievelight import plot_series
from sievelight import series as core
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.report import words
from sievelight.report.gallery import Gallery
from sievelight.study.results import StudyResult
from sievelight.study.series import FILLED_SHARE, SeriesResult


def series_sections(result: StudyResult, gallery: Gallery) -> list[dict[str, Any]]:
    """Every series with its sentences and pictures."""
    return [
        {"name": s.name, "sentences": words.series_sentences(s), "pictures": _pictures(s, gallery)}
        for s in result.series
    ]


def _pictures(s: SeriesResult, gallery: Gallery) -> list[dict[str, str]]:
    out = []
    if s.filling is not None:
        out.append(_filling(s, gallery))
    if s.quantity:
        out.append(_quantity(s, gallery))
    curves = {m.name: m.curve for m in s.samples}
    out.append(
        gallery.draw(
            f"series-{s.name}-curves",
            f"{s.name}: curves of the start (black) and of up to five frames after it.",
            lambda ax: plot_series.plot_curves_of_series(
                list(curves.values()), s.values, variable=s.variable, most=5, ax=ax
            ),
            (4.6, 3.4),
        )
    )
    return out


def _changed(s: SeriesResult) -> list[bool] | None:
    return None if s.change is None else [f.changed for f in s.change.frames]


def _turning(s: SeriesResult, quantity: str) -> int | None:
    """Where the branches part: of a series that is one cycle."""
    loops = [loop for loop in s.loops if loop.quantity == quantity]
    whole = len(loops) == 1 and loops[0].first == 0 and loops[0].last == len(s.values) - 1
    return loops[0].hysteresis.turning_point if whole else None


def _filling(s: SeriesResult, gallery: Gallery) -> dict[str, str]:
    assert s.filling is not None
    frames = s.filling.frames
    foretold = None
    if s.variable == "relative_humidity_percent" and s.start_size is not None:
        try:
            humidity = np.linspace(max(min(s.values), 1.0), min(max(s.values), 99.5), 300)
            temperature = s.rows[0].get("temperature_C")
            radius = core.kelvin_radius_nm(humidity, temperature_C=25.0 if temperature is None else temperature)
            share = np.interp(
                2 * np.asarray(radius), s.start_size.diameter_nm, s.start_size.cumulative, left=0, right=1
            )
            foretold = (humidity, share)
        except SIEVELIGHT_ERRORS:
            foretold = None
    text = f"{s.name}: share of the pores' volume that is filled, with 68 % and 95 % intervals."
    if foretold is not None:
        text += " Dashed: the start's pores narrower than twice Kelvin's radius."
    return gallery.draw(
        f"series-{s.name}-filling",
        text,
        lambda ax: plot_series.plot_series(
            s.values,
            [f.filled_share for f in frames],
            variable=s.variable,
            label="filled share of the pore volume",
            changed=_changed(s),
            turning_point=_turning(s, FILLED_SHARE),
            foretold=foretold,
            ax=ax,
        ),
        (4.6, 3.4),
    )


def _quantity(s: SeriesResult, gallery: Gallery) -> dict[str, str]:
    label, unit = words.label_and_unit(s.quantity)
    label = f"{label} / {unit}" if unit else label
    estimates = [m.summary.get(s.quantity) for m in s.samples]
    name = f"series-{s.name}-{s.quantity}"
    if s.is_map:
        return gallery.draw(
            name,
            f"{s.name}: {label} over the stage.",
            lambda ax: plot_series.plot_map(
                [m.values["x_mm"] for m in s.rows],
                [m.values["y_mm"] for m in s.rows],
                [math.nan if e is None else e.value for e in estimates],
                label=label,
                ax=ax,
            ),
            (4.6, 3.4),
        )
    changed, known = _changed(s), [k for k, e in enumerate(estimates) if e is not None]
    text = f"{s.name}: {label}, with 68 % and 95 % intervals."
    if s.filling is not None:
        text += " Read with the contrast of empty pores: while some are filled it is that of what is left, not of the pores."
    return gallery.draw(
        name,
        text,
        lambda ax: plot_series.plot_series(
            [s.values[k] for k in known],
            [estimates[k] for k in known],
            variable=s.variable,
            label=label,
            changed=None if changed is None else [changed[k] for k in known],
            turning_point=_turning(s, s.quantity) if len(known) == len(s.values) else None,
            ax=ax,
        ),
        (4.6, 3.4),
    )


def in_series(result: StudyResult) -> set[str]:
    """Names of the samples that a series draws, so that they need no pictures of their own."""
    return {m.name for s in result.series for m in s.samples}
