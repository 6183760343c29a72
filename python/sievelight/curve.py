# SPDX-License-Identifier: GPL-3.0-or-later
"""Scattering curves with the causes of their error: arithmetic, uncertainty budget, files.

Which one do I use, and when?

* :func:`read_curves` for NXcanSAS and canSAS XML, :func:`read_text_curve` for columns of text, :func:`write_nxcansas`
  to save.
* :func:`add`, :func:`subtract`, :func:`scale` (or ``a + b``, ``a - b``, ``k * a``), :func:`crop`, :func:`rebin`. They
  follow every cause of error: what two curves share cancels in their difference and stays in each of them.
* :func:`share` before one curve (a blank) is subtracted from several.
* :func:`pointwise_u` and :func:`total_u` for error bars, :func:`covariance` for fits,
  :func:`variance_by_cause` for the budget of a result, :func:`covariance_of_summaries` for what two results share.

A cause of error has an id, one signed standard deviation per point and a kind. *private*: own counts
(``private_u``). *pointwise*: independent from point to point but common to all curves with that id. *coherent*: one
number for the whole curve and for all curves with that id (transmission, thickness, absolute scale).
Source: linear propagation with correlated inputs, JCGM 100:2008 (GUM) 5.2.2.

Units: q in 1/nm, intensity in 1/cm (or cm2/g, or relative).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from os import PathLike, fspath

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import Cause, Curve, CurveInfo, Factor, NamedCurve, ProcessStep

__all__ = [
    "Cause",
    "Curve",
    "CurveInfo",
    "Factor",
    "NamedCurve",
    "ProcessStep",
    "add",
    "check",
    "covariance",
    "covariance_of_summaries",
    "crop",
    "divide",
    "multiply",
    "pointwise_u",
    "read_curves",
    "read_text_curve",
    "rebin",
    "scale",
    "share",
    "subtract",
    "total_u",
    "variance_by_cause",
    "variance_of_summary",
    "write_nxcansas",
]

Array = NDArray[np.float64]
Step = ProcessStep | tuple[str, str, Mapping[str, object] | Iterable[tuple[str, object]]]


def check(curve: Curve) -> None:
    """Raise InputError unless sizes agree, q is positive and rising, and every number is finite."""
    _core.check(curve)


def add(a: Curve, b: Curve) -> Curve:
    """a + b on identical bins. Shared causes add with their sign, private parts in quadrature."""
    return _core.add(a, b)


def subtract(a: Curve, b: Curve) -> Curve:
    """a - b on identical bins. Shared causes subtract with their sign, private parts add in quadrature.

    A curve that is subtracted from several others must be given to :func:`share` first, or its counts would pass for
    independent in each. Raises InputError when q or units differ.
    """
    return _core.subtract(a, b)


def scale(curve: Curve, factor: Factor | float) -> Curve:
    """factor * curve, with u(k I) = k u(I) + I u(k) per cause. ``factor`` may carry causes of its own."""
    return _core.scale(curve, factor if isinstance(factor, Factor) else Factor(float(factor)))


def multiply(a: Factor, b: Factor) -> Factor:
    """Product of two factors; their causes add with sign."""
    return _core.multiply(a, b)


def divide(a: Factor, b: Factor) -> Factor:
    """Quotient of two factors; a cause that is in both cancels as far as it is shared. InputError for b = 0."""
    return _core.divide(a, b)


def share(curve: Curve, cause_id: str) -> Curve:
    """Turn the private part into a pointwise cause with this id, because several curves are going to carry it."""
    return _core.share(curve, cause_id)


def crop(curve: Curve, *, q_low_per_nm: float = 0.0, q_high_per_nm: float = math.inf) -> Curve:
    """Keep the points with q_low <= q <= q_high (1/nm); InputError when none remains."""
    return _core.crop(curve, q_low_per_nm, q_high_per_nm)


def rebin(curve: Curve, *, group: int) -> Curve:
    """Merge each run of ``group`` neighbouring bins into one, weighted by their widths; causes keep id and sign."""
    return _core.rebin(curve, group)


def pointwise_u(curve: Curve) -> Array:
    """(n) standard uncertainty without the coherent causes: what scatters from point to point. NXcanSAS Idev."""
    return _core.pointwise_u(curve)


def total_u(curve: Curve) -> Array:
    """(n) standard uncertainty of each intensity with all causes."""
    return _core.total_u(curve)


def covariance(a: Curve, b: Curve | None = None) -> Array:
    """(n, n) covariance of a curve's intensities, or (n_a, n_b) between two curves through the causes they share."""
    return _core.covariance(a) if b is None else _core.covariance(a, b)


def variance_of_summary(influence: ArrayLike, curve: Curve) -> float:
    """Variance of a number that depends on the curve with the derivative ``influence`` (n): J C J."""
    return _core.variance_of_summary(np.asarray(influence, dtype=float), curve)


def covariance_of_summaries(influence_a: ArrayLike, a: Curve, influence_b: ArrayLike, b: Curve) -> float:
    """Covariance of two curves' summaries through the causes they share: J_a C_ab J_b.

    Private parts take no part, so this is not a variance when a and b are one curve.
    """
    return _core.covariance_of_summaries(
        np.asarray(influence_a, dtype=float), a, np.asarray(influence_b, dtype=float), b
    )


def variance_by_cause(influence: ArrayLike, curve: Curve) -> dict[str, float]:
    """Uncertainty budget of a summary: cause id -> variance, with "counts" for the private part."""
    return _core.variance_by_cause(np.asarray(influence, dtype=float), curve)


def read_curves(path: str | PathLike[str]) -> list[NamedCurve]:
    """Read all curves of a NXcanSAS (HDF5) or canSAS XML file, whichever it is.

    Each :class:`NamedCurve` has ``name``, ``curve``, ``info`` (title, sample, thickness, steps, ...) and
    ``has_uncertainty``; ``info.notes`` says what was assumed, e.g. an intensity unit that is not understood.
    Raises DataError, naming the file, when it is something else or broken.
    """
    return _core.read_curves(fspath(path))


def read_text_curve(path: str | PathLike[str], *, q_unit: str, intensity_unit: str) -> NamedCurve:
    """Read two to four columns of text: q, intensity, its standard uncertainty, the q resolution.

    Parameters
    ----------
    q_unit : "1/nm", "1/A", ...
    intensity_unit : "1/cm" or another inverse length, "cm2/g", or "relative".
    """
    return _core.read_text_curve(fspath(path), q_unit=q_unit, intensity_unit=intensity_unit)


def _step(step: Step) -> ProcessStep:
    if isinstance(step, ProcessStep):
        return step
    name, description, terms = step
    pairs = terms.items() if isinstance(terms, Mapping) else terms
    return ProcessStep(name, description, [(str(key), str(value)) for key, value in pairs])


def write_nxcansas(
    path: str | PathLike[str],
    curve: Curve,
    *,
    title: str = "",
    run: str = "",
    sample_name: str = "",
    thickness_mm: float = math.nan,
    transmission: float = math.nan,
    wavelength_nm: float = math.nan,
    distance_mm: float = math.nan,
    steps: Sequence[Step] = (),
    notes: Sequence[str] = (),
) -> None:
    """Write one curve as a NXcanSAS file; the same curve always gives the same bytes.

    Idev holds what scatters from point to point; the uncertainty of the cause "absolute scale" stands on the scaling
    factor, and every cause has a vector of its own, so that :func:`read_curves` gives back the same curve.

    Parameters
    ----------
    steps : processing steps, each (name, sentence, terms) or a :class:`ProcessStep`.

    Numbers that are not known are left as NaN and not written. Raises DataError when the file cannot be written.
    """
    info = CurveInfo(
        title=title,
        run=run,
        sample_name=sample_name,
        thickness_mm=thickness_mm,
        transmission=transmission,
        wavelength_nm=wavelength_nm,
        distance_mm=distance_mm,
        steps=[_step(step) for step in steps],
        notes=list(notes),
    )
    _core.write_nxcansas(fspath(path), curve, info)
