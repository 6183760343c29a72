# SPDX-License-Identifier: GPL-3.0-or-later
"""Gives the core's results what every result of this package can do: draw, become a table, be saved, show itself.

You do not call this module: importing `sievelight` does, and then

* every result has `to_dataframe()` and `save()` and is a table in a notebook; those over q, diameter, r or azimuth have
  `to_xarray()`;
* those that can be drawn have `plot(ax=None)`; fits that are drawn over their curve take it first, `fit.plot(curve)`.

The classes are the core's, so the methods are attached here once, in one table that can be read.
"""

from __future__ import annotations

import inspect
import os
import pathlib
import typing
from collections.abc import Sequence
from typing import Any

import numpy as np

from sievelight import _core, tables
from sievelight._core import Curve, GuinierFit, Invariant, PorodFit
from sievelight.errors import input_error


# --- curves ---------------------------------------------------------------------------------------------------------
def plot_curve(
    self: Any,
    *,
    ax: Any = None,
    kind: typing.Literal["log", "guinier", "porod", "kratky"] = "log",
    label: str = "",
    color: int = 0,
) -> Any:
    """Draw I(q) on log axes with its total 68 % band, or so that a law is straight: Guinier, Porod, Kratky.

    Returns the axes. Raises InputError for another kind or a curve without a finite point.
    """
    from sievelight import plot, plot_laws

    curve = getattr(self, "curve", self)
    laws: dict[str, Any] = {
        "guinier": plot_laws.plot_guinier,
        "porod": plot_laws.plot_porod,
        "kratky": plot_laws.plot_kratky,
    }
    if kind in laws:
        return laws[kind](curve, ax=ax, color=color)
    if kind != "log":
        raise input_error(f"kind={kind!r} is not known.", "Give 'log', 'guinier', 'porod' or 'kratky'.")
    shown = label or getattr(self, "name", "")
    return plot.plot_curves({shown: curve}, ax=ax, color=color)


def save_curve(self: Any, path: str | os.PathLike[str]) -> pathlib.Path:
    """Write the curve with its causes of error: NXcanSAS (.h5, .nxs, .hdf5), or .csv, or .json of its numbers.

    Raises InputError for another suffix, DataError where the file cannot be written.
    """
    curve, suffix = getattr(self, "curve", self), pathlib.Path(path).suffix.lower()
    if suffix in (".h5", ".nxs", ".hdf5"):
        from sievelight.curve import write_nxcansas

        write_nxcansas(path, curve, title=getattr(self, "name", "") or pathlib.Path(path).stem)
        return pathlib.Path(path)
    if suffix == ".csv":
        from sievelight.curve import write_csv

        write_csv(path, curve, causes=True)
        return pathlib.Path(path)
    if suffix == ".json":
        return tables.save(self, path)
    raise input_error(f"'{os.fspath(path)}' names no format of a curve.", "Use .h5 or .nxs (NXcanSAS), .csv or .json.")


# --- fits that are drawn over their curve ------------------------------------------------------------------------------
def plot_guinier_fit(
    self: GuinierFit, curve: Curve, *, ax: Any = None, kind: typing.Literal["guinier", "kratky"] = "guinier"
) -> Any:
    """Draw the fit over the curve it came from, ln I against q², or the dimensionless Kratky form. Returns the axes."""
    from sievelight import plot_laws

    if kind not in ("guinier", "kratky"):
        raise input_error(f"kind={kind!r} is not known.", "Give 'guinier' or 'kratky'.")
    return (plot_laws.plot_kratky if kind == "kratky" else plot_laws.plot_guinier)(curve, self, ax=ax)


def plot_porod_fit(self: PorodFit, curve: Curve, *, ax: Any = None) -> Any:
    """Draw the fit over the curve it came from, (I - B) q⁴ against q. Returns the axes."""
    from sievelight import plot_laws

    return plot_laws.plot_porod(curve, self, ax=ax)


def plot_invariant_of(
    self: Invariant, curve: Curve, *, porod: PorodFit, guinier: GuinierFit | None = None, ax: Any = None
) -> Any:
    """Draw q² (I - B), whose area this is, with what was extrapolated. Returns the axes."""
    from sievelight import plot_laws

    return plot_laws.plot_invariant(curve, self, porod=porod, guinier=guinier, ax=ax)


def plot_peaks(self: Any, curve: Curve, *, ax: Any = None, color: int = 0) -> Any:
    """Draw the peaks' fit over the curve they were found in, with their positions. Returns the axes."""
    from sievelight import plot

    ax = plot.plot_curves({"": curve}, ax=ax, color=color)
    fit = np.asarray(self.fit)
    if fit.size == np.asarray(curve.q_per_nm).size:
        ax.plot(curve.q_per_nm, fit, color="black", lw=0.9)
    for peak in self.peaks:
        ax.axvline(peak.q_per_nm.value, color=plot.color_of(1), lw=0.8, ls="--")
    return ax


# --- sizes -------------------------------------------------------------------------------------------------------------
def plot_sizes(
    self: Any,
    *,
    ax: Any = None,
    kind: typing.Literal["density", "fit", "residual"] = "density",
    color: int = 0,
    label: str | None = None,
) -> Any:
    """Draw the density with its bands and x10, x50, x90; or the fit over the measured curve; or its residuals.

    Returns the axes. Raises InputError for another kind.
    """
    from sievelight import plot

    if kind == "density":
        return plot.plot_distribution(self, ax=ax, color=color, label=label)
    if kind == "fit":
        return plot.plot_fit(self, ax=ax, color=color)
    if kind == "residual":
        return plot.plot_residuals(self.q_per_nm, self.residual, ax=ax, color=color)
    raise input_error(f"kind={kind!r} is not known.", "Give 'density', 'fit' or 'residual'.")


def plot_family(self: Any, *, ax: Any = None, color: int = 1) -> Any:
    """Draw the fitted density with its 95 % band. Returns the axes."""
    from sievelight import plot

    ax = plot._axes(ax)
    ax.fill_between(self.diameter_nm, self.q3_low95, self.q3_high95, color=plot.color_of(color), alpha=0.25, lw=0)
    ax.plot(self.diameter_nm, self.q3_per_nm, "--", color=plot.color_of(color), label=self.family)
    plot._density_axes(ax)
    ax.legend()
    return ax


def save_sizes(self: Any, path: str | os.PathLike[str]) -> pathlib.Path:
    """Write the distribution: NeXus with everything (.h5, .nxs, .hdf5), .csv of the density, .json of all numbers.

    Raises InputError for another suffix, DataError where the file cannot be written.
    """
    if pathlib.Path(path).suffix.lower() in (".h5", ".nxs", ".hdf5"):
        from sievelight.distribution import write_distribution

        write_distribution(path, self)
        return pathlib.Path(path)
    return tables.save(self, path)


def plot_trade_off(self: Any, *, ax: Any = None) -> Any:
    """Draw misfit against roughness over all strengths, and where each rule would stop. Returns the axes."""
    from sievelight import plot_laws

    return plot_laws.plot_trade_off(self, ax=ax)


# --- frames and geometry -----------------------------------------------------------------------------------------------
def plot_frame(
    self: Any, *, geometry: Any = None, ring_q_per_nm: Sequence[float] = (), ax: Any = None, title: str = ""
) -> Any:
    """Draw the counts on a log scale, masked pixels hatched, with beam point and rings of a geometry. Returns the axes."""
    from sievelight import plot

    return plot.plot_frame(self.counts, self.masked, geometry=geometry, ring_q_per_nm=ring_q_per_nm, ax=ax, title=title)


def plot_profile(self: Any, *, ax: Any = None) -> Any:
    """Draw intensity against azimuth with its 68 % band. Returns the axes."""
    from sievelight import plot

    return plot.plot_azimuth(self.azimuth_deg, self.intensity, self.u, ax=ax)


def plot_unrolled(self: Any, *, ax: Any = None) -> Any:
    """Draw the frame over q and azimuth. Returns the axes."""
    from sievelight import plot

    return plot.plot_q_azimuth_map(self, ax=ax)


def plot_rings(self: Any, counts: Any, *, masked: Any = None, axes: Any = None) -> Any:
    """Draw the calibration over the frame it came from, and its residuals. Returns both axes."""
    from sievelight import plot

    return plot.calibration(self, counts=counts, masked=masked, axes=axes)


# --- comparisons and two phases ----------------------------------------------------------------------------------------
def plot_comparison(
    self: Any, names: Sequence[str], batches: Sequence[str], values: Sequence[Any], *, ax: Any = None, label: str = ""
) -> Any:
    """Draw the samples that were compared, batch means, margin and verdicts. Returns the axes."""
    from sievelight import plot

    return plot.plot_batches(names, batches, values, self, label=label or self.quantity, ax=ax)


def plot_gamma(self: Any, *, chords: bool = False, ax: Any = None) -> Any:
    """Draw γ(r), or the chord lengths, with their bands. Returns the axes."""
    from sievelight.plot_two_phase import plot_correlation

    return plot_correlation(self, chords=chords, ax=ax)


PLOTS: dict[str, Any] = {
    "Curve": plot_curve,
    "NamedCurve": plot_curve,
    "Averaged": plot_curve,
    "Merged": plot_curve,
    "GuinierFit": plot_guinier_fit,
    "PorodFit": plot_porod_fit,
    "Invariant": plot_invariant_of,
    "CurvePeaks": plot_peaks,
    "SizeDistribution": plot_sizes,
    "ParametricFit": plot_family,
    "TradeOff": plot_trade_off,
    "Frame": plot_frame,
    "AzimuthalProfile": plot_profile,
    "QAzimuthMap": plot_unrolled,
    "RingCalibration": plot_rings,
    "BatchComparison": plot_comparison,
    "CorrelationFunction": plot_gamma,
}
SAVES: dict[str, Any] = {
    "Curve": save_curve,
    "NamedCurve": save_curve,
    "Averaged": save_curve,
    "Merged": save_curve,
    "SizeDistribution": save_sizes,
}


def _results() -> list[Any]:
    """The core's classes that show numbers: those with a `repr` of their own, but a plain pair and enumerations."""
    classes = [c for _, c in inspect.getmembers(_core, inspect.isclass) if c.__module__ == _core.__name__]
    return [c for c in classes if "__repr__" in vars(c) and c is not _core.Range and not hasattr(c, "__members__")]


for _class in _results():
    _name = _class.__name__
    _class.to_dataframe = tables.to_dataframe
    _class._repr_html_ = tables.as_html
    _class.save = SAVES.get(_name, tables.save)
    if _name in tables.POINTS:
        _class.to_xarray = tables.to_xarray
    if _name in PLOTS:
        _class.plot = PLOTS[_name]
