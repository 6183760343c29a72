# SPDX-License-Identifier: GPL-3.0-or-later
"""What if another choice had been made? The shift of every summary under neighbouring choices, beside the band.

A band holds what noise and smoothness leave open; it does not hold the choices of a person: the q range, the size window,
whether grain surfaces scatter. None of them is part of the band, and none is averaged away here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sievelight import curve as curves
from sievelight._core import Curve, SizeDistribution
from sievelight.distribution import HardSpheres, invert
from sievelight.errors import SIEVELIGHT_ERRORS, input_error
from sievelight.tables import Tabular

__all__ = ["WhatIf", "what_if"]

QUANTITIES = ("x10_nm", "x50_nm", "x90_nm", "mean_nm", "relative_width", "phi_one_minus_phi")


@dataclass(frozen=True)
class WhatIf(Tabular):
    """One row a choice: what changes, and by how much."""

    result: SizeDistribution  # with the choices as they were made
    rows: list[dict[str, Any]]

    def worst(self, quantity: str = "x50_nm") -> dict[str, Any]:
        """The row that moves a quantity most."""
        known = [r for r in self.rows if not math.isnan(r.get(quantity, math.nan))]
        if not known:
            raise input_error(f"no row has '{quantity}'.", f"Known: {', '.join(QUANTITIES)}.")
        return max(known, key=lambda r: abs(r[quantity]))

    def plot(self, quantity: str = "x50_nm", *, ax: Any = None) -> Any:
        """Draw the shift of one quantity under each choice, beside the 95 % band of the choice that was made.

        Returns the axes. Raises InputError for a quantity that no row has.
        """
        from sievelight import plot

        self.worst(quantity)
        shown = [r for r in self.rows if not math.isnan(r.get(quantity, math.nan))]
        e = getattr(self.result, quantity)
        ax = plot._axes(ax, figsize=(plot.COLUMN_INCHES[0], 0.9 + 0.2 * len(shown)))
        ax.axvspan(
            100 * (e.band95.low / e.value - 1),
            100 * (e.band95.high / e.value - 1),
            color="0.85",
            lw=0,
            label="95 % band",
        )
        ax.axvline(0, color="0.4", lw=0.8)
        for k, r in enumerate(shown):
            ax.plot([0, 100 * r[quantity]], [k, k], color=plot.color_of(0), lw=0.8)
            ax.plot(100 * r[quantity], k, "o", ms=4, color=plot.color_of(0))
        ax.set_yticks(range(len(shown)), [r["choice"] for r in shown])
        ax.invert_yaxis()
        ax.set(xlabel=f"shift of {quantity} / %", ylabel="what if ...")
        ax.legend(loc="lower right", bbox_to_anchor=(1, 1))
        return ax

    def __repr__(self) -> str:
        names = [q for q in QUANTITIES if any(not math.isnan(r[q]) for r in self.rows)]
        lines = [f"{'what if ...':<44}" + "".join(f"{n.replace('_nm', ''):>18}" for n in names)]
        lines.append(f"{'(its standard uncertainty)':<44}" + "".join(f"{self._own(n):>16.2f} %" for n in names))
        for r in self.rows:
            lines.append(f"{r['choice']:<44}" + "".join(f"{100 * r[n]:>+16.2f} %" for n in names) + r["note"])
        return "\n".join(lines)

    def _own(self, name: str) -> float:
        e = getattr(self.result, name)
        return float(100 * e.u / e.value)


def what_if(
    curve: Curve,
    *,
    diameter_nm: tuple[float, float] | None = None,
    q_range_per_nm: tuple[float, float] | None = None,
    power_law: bool = False,
    draws: int = 1200,
    **options: Any,
) -> WhatIf:
    """Invert again under neighbouring choices: fewer low or high q, a wider window, with or without K q⁻⁴; and of spheres,
    were they spheroids, or were a tenth of the volume full of them.

    Parameters
    ----------
    curve, diameter_nm, q_range_per_nm, power_law, **options
        As for :func:`sievelight.invert`; they are the choice that was made.
    draws : int
        Of each inversion; the shifts carry a sampling error of about a twentieth of the standard uncertainty.

    Returns
    -------
    WhatIf
        ``rows``: ``choice``, ``kind`` ("choice" of range, window, bins, power law; "model" of shape or interference), the relative shift of each summary, ``chi2_per_point``, ``note`` (why a choice could not be
        tried); ``worst("x50_nm")``; ``result``.

    Raises
    ------
    InputError, NumericalError : as :func:`sievelight.invert` for the choice that was made.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.what_if(sl.examples.curve(), method="evidence")
    >>> found.rows[0]["choice"], abs(found.rows[0]["x50_nm"]) < 0.01
    ('q from 0.183 1/nm on', True)
    >>> found.worst("x50_nm")["kind"]
    'model'
    """
    made: dict[str, Any] = {"diameter_nm": diameter_nm, "q_range_per_nm": q_range_per_nm, "power_law": power_law}
    base = invert(curve, **made, draws=draws, **options)
    q = base.q_per_nm
    low, high = float(q[0]), float(q[-1])
    span = (high / low) ** 0.15  # a seventh of the range in ln q
    window = (base.window_nm.low, base.window_nm.high)
    # A fitted fraction stays fitted; a fitted exponent has nothing to belong to once its term is gone.
    p = "p" if options.get("also_fit") == "power_exponent" else f"{options.get('power_exponent', 4.0):g}"
    choices: list[tuple[str, dict[str, Any]]] = [
        (f"q from {low * span:.3g} 1/nm on", {"q_range_per_nm": (low * span, high), "diameter_nm": window}),
        (f"q up to {high / span:.3g} 1/nm", {"q_range_per_nm": (low, high / span), "diameter_nm": window}),
        (f"sizes from {window[0] / 1.3:.3g} to {window[1] * 1.3:.3g} nm", {"diameter_nm": (window[0] / 1.3, window[1] * 1.3)}),
        ((f"without K q^-{p}", {"power_law": False} | ({"also_fit": "nothing"} if p == "p" else {})) if power_law else ("with K q^-4", {"power_law": True})),
        ("pairs of bins joined", {"rebin": True}),
    ]  # fmt: skip
    # The shape is an assumption that residuals hardly test; interference is one that dilute samples allow.
    shape = options.get("shape", "sphere")
    if getattr(shape, "name", shape) == "sphere" and options.get("kernel") is None:
        choices += [("spheroids, axes 1 : 1.5", {"shape": "spheroid", "axis_ratio": 1.5}),
                    ("spheroids, axes 1.5 : 1", {"shape": "spheroid", "axis_ratio": 1 / 1.5})]  # fmt: skip
        if options.get("interaction") is None:
            choices.append(("hard spheres, a tenth of the volume", {"interaction": HardSpheres(0.1)}))
    return WhatIf(base, [_row(curve, name, base, made, change, draws, options) for name, change in choices])


# Changes of what the particles are, rather than of how the curve is read.
_MODEL = {"shape", "interaction"}


def _row(
    curve: Curve,
    name: str,
    base: SizeDistribution,
    made: dict[str, Any],
    change: dict[str, Any],
    draws: int,
    options: dict[str, Any],
) -> dict[str, Any]:
    kind = "model" if _MODEL & set(change) else "choice"
    choice = made | change
    used = curves.rebin(curve, group=2) if choice.pop("rebin", False) else curve
    row: dict[str, Any] = {"choice": name, "kind": kind, "note": "", "chi2_per_point": math.nan} | dict.fromkeys(
        QUANTITIES, math.nan
    )
    try:
        other = invert(used, **(options | choice), draws=draws)
    except SIEVELIGHT_ERRORS as error:
        return row | {"note": f"  not possible: {str(error).splitlines()[0]}"}
    row["chi2_per_point"] = other.chi2_per_point
    for quantity in QUANTITIES:
        mine, theirs = getattr(base, quantity).value, getattr(other, quantity).value
        if math.isfinite(mine) and math.isfinite(theirs) and mine:
            row[quantity] = theirs / mine - 1
    return row
