# SPDX-License-Identifier: GPL-3.0-or-later
"""What ranges of q chosen by hand make of a curve: Rg by Guinier's law, x50 by the quick look, a background's factor.

Nothing here knows of a notebook. Every change costs milliseconds: a fit of Guinier's law 0.1, a quick look about 10.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sievelight import analysis, distribution, reduce
from sievelight import curve as curves
from sievelight._core import Curve, Estimate, GuinierFit, SizeDistribution
from sievelight.errors import SIEVELIGHT_ERRORS, input_error

GUINIER, SIZES, BACKGROUND = "Guinier", "sizes", "background"
# Where each range stands in a study.
KEYS = {
    GUINIER: ("analysis", "guinier_q_range_per_nm"),
    SIZES: ("distribution", "q_range_per_nm"),
    BACKGROUND: ("reduce", "fit_background_per_nm"),
}
SHARED = ("name", "transmission", "background_name", "background_transmission")  # what the factor's fit takes too


@dataclass
class Ranges:
    """A curve, the ranges chosen on it, and what follows from them.

    sample : the Curve; or, with a background, what `reduce.absolute_curve` takes as sample.
    background, subtraction : the background and the other arguments of `absolute_curve`.
    inversion : further arguments of `invert` (shape, power_law, contrast_per_cm2, diameter_nm, ...).
    """

    sample: Any
    background: Any = None
    subtraction: dict[str, Any] = field(default_factory=dict)
    inversion: dict[str, Any] = field(default_factory=dict)
    chosen: dict[str, tuple[float, float]] = field(default_factory=dict)  # by hand; the others are automatic

    def __post_init__(self) -> None:
        self.factor: Any = None
        self.guinier: GuinierFit | None = None
        self.size: SizeDistribution | None = None
        self.trouble: dict[str, str] = {}
        plain = self.sample if isinstance(self.sample, Curve) else getattr(self.sample, "curve", None)
        if not isinstance(plain, Curve):
            raise input_error(
                f"a {type(self.sample).__name__} was given as a curve.",
                "Give a Curve, e.g. sl.read_curves(...)[0].curve, or sl.Curve(q_per_nm=..., intensity=..., private_u=...).",
            )
        if self.background is None and self.subtraction:
            raise input_error(
                f"{', '.join(self.subtraction)} without a background.", "Give background=..., or a curve that is ready."
            )
        self.curve = plain
        curves.check(plain)
        good = np.isfinite(plain.intensity) & (np.asarray(plain.intensity) > 0)
        if np.count_nonzero(good) < 5:
            raise input_error(
                f"only {np.count_nonzero(good)} of {good.size} points have an intensity above zero.",
                "There is no range to choose on such a curve: look at its background and mask.",
            )
        for what in (GUINIER, SIZES, BACKGROUND):
            if what in self.chosen:
                self.chosen[what] = self._checked(self.chosen[what])
        self.follow(BACKGROUND if self.background is not None else None)

    @property
    def limits(self) -> tuple[float, float]:
        """First and last q of the curve, 1/nm."""
        q = self.curve.q_per_nm
        return float(q[0]), float(q[-1])

    def now(self, what: str) -> tuple[float, float]:
        """The range as it stands: chosen, or automatic."""
        if what in self.chosen:
            return self.chosen[what]
        q = self.curve.q_per_nm
        if what == GUINIER and self.guinier is not None:
            low, high = self.guinier.q_range_per_nm
            return rounded(low), rounded(high)
        first, last = rounded(q[0]), rounded(q[-1])
        if what == GUINIER:
            return first, rounded(q[min(len(q) - 1, max(8, len(q) // 8))])
        return (rounded(q[(3 * len(q)) // 4]), last) if what == BACKGROUND else (first, last)

    def choose(self, what: str, low: float, high: float) -> None:
        """Set a range by hand, to four digits, and find what follows from it. Raises InputError for an empty one."""
        self.chosen[what] = self._checked((low, high))
        self.follow(what)

    def automatic(self, what: str) -> None:
        """Forget what was chosen by hand."""
        self.chosen.pop(what, None)
        self.follow(what)

    def _checked(self, pair: tuple[float, float]) -> tuple[float, float]:
        low, high = sorted(min(max(v, 0.99 * self.limits[0]), 1.01 * self.limits[1]) for v in pair)
        low, high = rounded(low), rounded(high)
        if not low < high:
            raise input_error(
                f"the range from {low:g} to {high:g} 1/nm is empty.", "Drag over some points of the curve."
            )
        return low, high

    def follow(self, what: str | None) -> None:
        """Compute what depends on a range (None: all). What cannot be found is None, and `trouble` says why."""
        if what in (BACKGROUND, None) and self.background is not None:
            self._try(BACKGROUND, self._subtract)
        if what != SIZES:
            self.guinier = self._try(GUINIER, self._fit_guinier)
        if what != GUINIER:
            self.size = self._try(SIZES, self._look)

    def _try(self, what: str, find: Any) -> Any:
        self.trouble.pop(what, None)
        try:
            return find()
        except SIEVELIGHT_ERRORS as error:
            self.trouble[what] = " ".join(str(error).split())
            return None

    def _subtract(self) -> None:
        shared = {key: self.subtraction[key] for key in SHARED if key in self.subtraction}
        factor: Any = 1.0
        if BACKGROUND in self.chosen:
            factor = self.factor = reduce.fit_background_factor(
                self.sample, self.background, *self.chosen[BACKGROUND], **shared
            )
        else:
            self.factor = None
        self.curve = reduce.absolute_curve(
            self.sample, background=self.background, background_scale=factor, **self.subtraction
        ).curve

    def _fit_guinier(self) -> GuinierFit:
        return analysis.fit_guinier(self.curve, q_range_per_nm=self.chosen.get(GUINIER))

    def _look(self) -> SizeDistribution:
        return distribution.invert(
            self.curve, method="evidence", look_for_order=False, q_range_per_nm=self.chosen.get(SIZES), **self.inversion
        )

    @property
    def rg_nm(self) -> Any:
        """Radius of gyration with its bands, or None."""
        return None if self.guinier is None else self.guinier.rg_nm

    @property
    def x50_nm(self) -> Estimate | None:
        """Median diameter of the quick look with its bands, or None."""
        return None if self.size is None else self.size.x50_nm

    def values(self) -> dict[str, Any]:
        """All numbers under their names; None where there is none."""
        out: dict[str, Any] = {key: self.chosen.get(what) for what, (_, key) in KEYS.items()}
        estimates: dict[str, Any] = {"rg_nm": self.rg_nm, "x50_nm": self.x50_nm}
        for name, estimate in estimates.items():
            known = estimate is not None and math.isfinite(estimate.value)
            out[name] = estimate.value if known else None
            out[f"{name}_u"] = estimate.u if known else None
            out[f"{name}_low"], out[f"{name}_high"] = tuple(estimate.band95) if known else (None, None)
        if self.background is not None:
            out["background_factor"] = None if self.factor is None else self.factor.factor.value
            out["background_factor_u"] = None if self.factor is None else self.factor.u
        return out

    @property
    def toml(self) -> str:
        """Lines for a study with the ranges chosen by hand; empty where all are automatic."""
        pieces = []
        for what, (section, key) in KEYS.items():
            if what in self.chosen:
                low, high = self.chosen[what]
                pieces.append(f"[{section}]\n{key} = [{low!r}, {high!r}]\n")
        return "\n".join(pieces)

    @property
    def code(self) -> str:
        """Python that gives the same numbers from `curve` (or from `sample` and `background`)."""
        lines = []
        if self.background is not None:
            extra = "".join(f", {key}={value!r}" for key, value in self.subtraction.items())
            shared = "".join(f", {key}={self.subtraction[key]!r}" for key in SHARED if key in self.subtraction)
            scale = ""
            if BACKGROUND in self.chosen:
                low, high = self.chosen[BACKGROUND]
                lines.append(f"factor = sl.reduce.fit_background_factor(sample, background, {low!r}, {high!r}{shared})")
                scale = ", background_scale=factor"
            lines.append(f"curve = sl.absolute_curve(sample, background=background{scale}{extra}).curve")
        extra = "".join(f", {key}={value!r}" for key, value in self.inversion.items())
        lines.append(f"guinier = sl.fit_guinier(curve, q_range_per_nm={self.chosen.get(GUINIER)!r})")
        lines.append("# method and look_for_order make the quick look; leave them out for results.")
        lines.append(
            f'sizes = sl.invert(curve, q_range_per_nm={self.chosen.get(SIZES)!r}{extra}, method="evidence", look_for_order=False)'
        )
        return "\n".join(lines)


def rounded(q_per_nm: float) -> float:
    """Four digits: less than the width of a bin, and short to write."""
    return float(f"{float(q_per_nm):.4g}")
