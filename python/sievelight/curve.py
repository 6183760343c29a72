# SPDX-License-Identifier: GPL-3.0-or-later
"""Scattering curves with the causes of their error: arithmetic, uncertainty budget, files.

Which one do I use, and when?

* :func:`read_curves` for NXcanSAS and canSAS XML, :func:`read_text_curve` for columns of text, :func:`write_nxcansas`
  to save with everything, :func:`write_csv` for spreadsheets.
* :func:`merge` makes one curve from two camera lengths.
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

>>> import sievelight as sl
>>> curve = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.3, 0.2], unit="1/cm")
>>> (2 * curve).intensity.tolist(), len(curve - curve)
([18.0, 8.0], 2)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from os import PathLike, fspath
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import Cause, Curve, CurveInfo, Factor, InstrumentInfo, Merged, NamedCurve, ProcessStep, Range

__all__ = [
    "Cause",
    "Curve",
    "CurveInfo",
    "Factor",
    "InstrumentInfo",
    "Merged",
    "NamedCurve",
    "ProcessStep",
    "add",
    "assume_u",
    "check",
    "covariance",
    "covariance_of_summaries",
    "crop",
    "divide",
    "merge",
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
    "write_csv",
    "write_nxcansas",
]

Array = NDArray[np.float64]
Step: TypeAlias = ProcessStep | tuple[str, str, Mapping[str, object] | Iterable[tuple[str, object]]]
Pair = tuple[float, float]


def check(curve: Curve) -> None:
    """Raise InputError unless sizes agree, q is positive and rising, and every number is finite.

    Parameters
    ----------
    curve : n points.

    Raises
    ------
    InputError
        Names the array and the point.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.1, 0.1])
    >>> sl.curve.check(curve)
    >>> curve.q_per_nm = [0.2, 0.1]
    >>> sl.curve.check(curve)
    Traceback (most recent call last):
        ...
    sievelight.InputError: ...
    """
    _core.check(curve)


def add(a: Curve, b: Curve) -> Curve:
    """a + b on identical bins. Shared causes add with their sign, private parts in quadrature.

    Parameters
    ----------
    a, b : n points each, in one unit.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        Bins, units or slits differ.

    Examples
    --------
    >>> import sievelight as sl
    >>> a = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.3, 0.3])
    >>> both = sl.curve.add(a, a)  # or a + a
    >>> both.intensity.tolist(), both.private_u.round(2).tolist()
    ([18.0, 8.0], [0.42, 0.42])
    """
    return _core.add(a, b)


def subtract(a: Curve, b: Curve) -> Curve:
    """a - b on identical bins. Shared causes subtract with their sign, private parts add in quadrature.

    A curve that is subtracted from several others must be given to :func:`share` first, or its counts would pass for
    independent in each.

    Parameters
    ----------
    a, b : n points each, in one unit.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        Bins, units or slits differ.

    Examples
    --------
    >>> import sievelight as sl
    >>> sample = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.3, 0.3])
    >>> blank = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[1.0, 1.0], private_u=[0.4, 0.4])
    >>> difference = sl.curve.subtract(sample, sl.curve.share(blank, "counts: blank"))
    >>> difference.intensity.tolist(), sl.curve.total_u(difference).round(2).tolist()
    ([8.0, 3.0], [0.5, 0.5])
    """
    return _core.subtract(a, b)


def scale(curve: Curve, factor: Factor | float) -> Curve:
    """factor * curve, with u(k I) = k u(I) + I u(k) per cause. ``factor`` may carry causes of its own.

    Parameters
    ----------
    curve : n points.
    factor : a number, or a :class:`Factor` with its causes.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        A cause of the factor is pointwise in the curve.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.3, 0.3])
    >>> thick = sl.curve.scale(curve, sl.curve.Factor(2.0, {"thickness: tile": 0.02}))
    >>> thick.intensity.tolist(), thick.causes["thickness: tile"].u.tolist()
    ([18.0, 8.0], [0.18, 0.08])
    """
    return _core.scale(curve, factor if isinstance(factor, Factor) else Factor(float(factor)))


def multiply(a: Factor, b: Factor) -> Factor:
    """Product of two factors; their causes add with sign.

    Parameters
    ----------
    a, b : factors; a cause that both carry adds in the product.

    Returns
    -------
    Factor

    Examples
    --------
    >>> import sievelight as sl
    >>> k = sl.curve.multiply(sl.curve.Factor(2.0, {"scale": 0.1}), sl.curve.Factor(3.0, {"scale": 0.1}))
    >>> k.value, {name: round(u, 2) for name, u in k.causes.items()}
    (6.0, {'scale': 0.5})
    """
    return _core.multiply(a, b)


def divide(a: Factor, b: Factor) -> Factor:
    """Quotient of two factors; a cause that is in both cancels as far as it is shared.

    Parameters
    ----------
    a, b : factors.

    Returns
    -------
    Factor

    Raises
    ------
    InputError
        b is zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> k = sl.curve.divide(sl.curve.Factor(2.0, {"scale": 0.1}), sl.curve.Factor(4.0, {"scale": 0.2}))
    >>> k.value, {name: round(u, 2) for name, u in k.causes.items()}
    (0.5, {'scale': 0.0})
    """
    return _core.divide(a, b)


def share(curve: Curve, cause_id: str) -> Curve:
    """Turn the private part into a pointwise cause with this id, because several curves are going to carry it.

    Parameters
    ----------
    curve : n points.
    cause_id : name of the cause, such as "counts: empty cell"; equal names mean the same random numbers.

    Returns
    -------
    Curve
        Without a private part.

    Raises
    ------
    InputError
        The curve has a cause of this id already.

    Examples
    --------
    >>> import sievelight as sl
    >>> blank = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[1.0, 1.0], private_u=[0.4, 0.4])
    >>> shared = sl.curve.share(blank, "counts: blank")
    >>> list(shared.causes), shared.private_u.tolist()
    (['counts: blank'], [0.0, 0.0])
    """
    return _core.share(curve, cause_id)


def crop(curve: Curve, *, q_low_per_nm: float = 0.0, q_high_per_nm: float = math.inf) -> Curve:
    """Keep the points with q_low <= q <= q_high.

    Parameters
    ----------
    curve : n points.
    q_low_per_nm, q_high_per_nm : the range, 1/nm.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        No point remains.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.curve.crop(sl.examples.curve(), q_low_per_nm=0.2, q_high_per_nm=2.0)
    >>> bool(curve.q_per_nm[0] >= 0.2), bool(curve.q_per_nm[-1] <= 2.0)
    (True, True)
    """
    return _core.crop(curve, q_low_per_nm, q_high_per_nm)


def rebin(curve: Curve, *, group: int) -> Curve:
    """Merge each run of ``group`` neighbouring bins into one, weighted by their widths; causes keep id and sign.

    Parameters
    ----------
    curve : n points.
    group : bins to merge into one.

    Returns
    -------
    Curve
        n / group points, rounded up.

    Raises
    ------
    InputError
        ``group`` is below 1, or bins have no width.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> coarse = sl.curve.rebin(curve, group=3)
    >>> len(curve), len(coarse), bool(coarse.private_u[-1] < curve.private_u[-1])
    (90, 30, True)
    """
    return _core.rebin(curve, group)


def pointwise_u(curve: Curve) -> Array:
    """Standard uncertainty (n) without the coherent causes: what scatters from point to point. NXcanSAS Idev.

    Parameters
    ----------
    curve : n points.

    Returns
    -------
    array (n), in the curve's unit

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.curve.scale(sl.examples.curve(), sl.curve.Factor(1.0, {"scale": 0.05}))  # points are known to 1 %
    >>> bool(sl.curve.pointwise_u(curve)[0] < sl.curve.total_u(curve)[0])
    True
    """
    return _core.pointwise_u(curve)


def assume_u(curve: Curve, *, relative: float, floor: float = 0.0) -> Curve:
    """Give points that came without an uncertainty a declared one: relative x local mean intensity, and a floor.

    Parameters
    ----------
    curve : n points; those whose private uncertainty is above zero keep it.
    relative : share of the mean |I| over the five points around each, such as 0.02.
    floor : added in quadrature, in the curve's unit; needed where the intensity falls to zero.

    Returns
    -------
    Curve with an uncertainty at every point. Whatever follows rests on this assumption: say so beside it.

    Raises
    ------
    InputError
        Negative numbers, both zero, or a point that would still have none.

    Examples
    --------
    >>> import sievelight as sl
    >>> bare = sl.Curve(q_per_nm=[0.1, 0.2, 0.3], intensity=[9.0, 4.0, 2.0], private_u=[0.0, 0.0, 0.0])
    >>> sl.curve.assume_u(bare, relative=0.02).private_u.round(3).tolist()
    [0.1, 0.1, 0.1]
    """
    return _core.assume_u(curve, relative=relative, floor=floor)


def total_u(curve: Curve) -> Array:
    """Standard uncertainty (n) of each intensity with all causes.

    Parameters
    ----------
    curve : n points.

    Returns
    -------
    array (n), in the curve's unit

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.3, 0.3])
    >>> sl.curve.total_u(sl.curve.share(curve, "counts: blank")).tolist()
    [0.3, 0.3]
    """
    return _core.total_u(curve)


def covariance(a: Curve, b: Curve | None = None) -> Array:
    """Covariance (n, n) of a curve's intensities, or (n_a, n_b) between two curves through the causes they share.

    Parameters
    ----------
    a : n_a points.
    b : n_b points, in one unit with `a`.

    Returns
    -------
    array (n, n) or (n_a, n_b), in the square of the curve's unit

    Raises
    ------
    InputError
        A pointwise cause is shared by curves on unlike bins, or a cause is of two kinds.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[9.0, 4.0], private_u=[0.3, 0.3])
    >>> scaled = sl.curve.scale(curve, sl.curve.Factor(1.0, {"scale": 0.1}))
    >>> sl.curve.covariance(scaled).round(2).tolist()
    [[0.9, 0.36], [0.36, 0.25]]
    >>> sl.curve.covariance(scaled, scaled).round(2).tolist()  # of another curve with this scale
    [[0.81, 0.36], [0.36, 0.16]]
    """
    return _core.covariance(a) if b is None else _core.covariance(a, b)


def variance_of_summary(influence: ArrayLike, curve: Curve) -> float:
    """Variance of a number that depends on the curve with the derivative ``influence`` (n): J C J.

    Parameters
    ----------
    influence : (n) d number / d intensity.
    curve : n points.

    Returns
    -------
    float, in the square of the number's unit

    Raises
    ------
    InputError
        The influence has another length.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> rg = sl.fit_guinier(curve).rg_nm
    >>> round(sl.curve.variance_of_summary(rg.influence, curve) ** 0.5 / rg.u, 2)
    1.0
    """
    return _core.variance_of_summary(np.asarray(influence, dtype=float), curve)


def covariance_of_summaries(influence_a: ArrayLike, a: Curve, influence_b: ArrayLike, b: Curve) -> float:
    """Covariance of two curves' summaries through the causes they share: J_a C_ab J_b.

    Private parts take no part, so this is not a variance when a and b are one curve.

    Parameters
    ----------
    influence_a, influence_b : (n_a), (n_b) d summary / d intensity.
    a, b : the curves.

    Returns
    -------
    float, in the product of the summaries' units

    Raises
    ------
    InputError
        An influence has another length than its curve.

    Examples
    --------
    >>> import sievelight as sl
    >>> scale = sl.curve.Factor(1.0, {"absolute scale: table": 0.0258})
    >>> a, b = (sl.curve.scale(sl.examples.curve(seed=k), scale) for k in (1, 2))
    >>> i0_a, i0_b = sl.fit_guinier(a).i0, sl.fit_guinier(b).i0
    >>> shared = sl.curve.covariance_of_summaries(i0_a.influence, a, i0_b.influence, b)
    >>> round((shared / (i0_a.value * i0_b.value)) ** 0.5, 4)  # the scale's own
    0.0258
    """
    return _core.covariance_of_summaries(
        np.asarray(influence_a, dtype=float), a, np.asarray(influence_b, dtype=float), b
    )


def variance_by_cause(influence: ArrayLike, curve: Curve) -> dict[str, float]:
    """Uncertainty budget of a summary.

    Parameters
    ----------
    influence : (n) d summary / d intensity.
    curve : n points.

    Returns
    -------
    dict
        Cause id -> variance, in the square of the summary's unit, with "counts" for the private part.

    Raises
    ------
    InputError
        The influence has another length.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.curve.scale(sl.examples.curve(), sl.curve.Factor(1.0, {"scale": 0.03}))
    >>> i0 = sl.fit_guinier(curve).i0
    >>> budget = sl.curve.variance_by_cause(i0.influence, curve)
    >>> max(budget, key=budget.get), sorted(budget)
    ('scale', ['counts', 'scale'])
    """
    return _core.variance_by_cause(np.asarray(influence, dtype=float), curve)


def read_curves(path: str | PathLike[str]) -> list[NamedCurve]:
    """Read all curves of a NXcanSAS (HDF5) or canSAS XML file, whichever it is.

    Parameters
    ----------
    path : of the file; its content decides, not its suffix.

    Returns
    -------
    list of NamedCurve
        Each has ``name``, ``curve``, ``info`` (title, sample, thickness, steps, ...) and ``has_uncertainty``;
        ``info.notes`` says what was assumed, e.g. an intensity unit that is not understood.

    Raises
    ------
    DataError
        Naming the file, when it is something else or broken.

    Notes
    -----
    NeXus application definition NXcanSAS; canSAS 1D working group, cansas1d/1.0 and 1.1.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.write_nxcansas("tile.h5", sl.examples.curve(), title="invented")
    >>> (tile,) = sl.read_curves("tile.h5")
    >>> tile.info.title, len(tile.curve), tile.curve.unit
    ('invented', 90, '1/cm')
    """
    return _core.read_curves(fspath(path))


def read_text_curve(
    path: str | PathLike[str], *, q_unit: str | None = None, intensity_unit: str | None = None
) -> NamedCurve:
    """Read a file of :func:`write_csv`, or two to four columns of text: q, intensity, its u, the q resolution.

    Parameters
    ----------
    path : of the file.
    q_unit : "1/nm", "1/A", ...
    intensity_unit : "1/cm" or another inverse length, "cm2/g", or "relative".
        Both are needed unless the file's header names them, as those of :func:`write_csv` do.

    Returns
    -------
    NamedCurve

    Raises
    ------
    InputError
        A unit is needed and not given, is not known, or contradicts the header.
    DataError
        The file cannot be read or holds no such columns.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> np.savetxt("curve.txt", [[0.01, 9.0, 0.1], [0.02, 4.0, 0.1]])
    >>> read = sl.read_text_curve("curve.txt", q_unit="1/A", intensity_unit="1/cm")
    >>> read.curve.q_per_nm.tolist(), read.has_uncertainty
    ([0.1, 0.2], True)
    """
    return _core.read_text_curve(fspath(path), q_unit=q_unit, intensity_unit=intensity_unit)


def write_csv(path: str | PathLike[str], curve: Curve, *, causes: bool = False) -> None:
    """Write comma-separated values (RFC 4180) with one header row whose names carry the units.

    ``q_per_nm, intensity_per_cm``, then what is known of ``u_total_per_cm, u_pointwise_per_cm, q_low_per_nm,
    q_high_per_nm, q_resolution_per_nm, slit_length_per_nm, slit_width_per_nm``; other units of intensity end in
    ``_cm2_per_g`` or ``_relative``.

    Parameters
    ----------
    path : of the file; an existing one is replaced.
    curve : n points, n rows below the header.
    causes : bool
        Also ``u_private_per_cm`` and one signed column for every shared cause, so that :func:`read_text_curve` gives
        back the same curve to the last bit. Without, only what scatters from point to point comes back.

    Raises
    ------
    DataError
        The file cannot be written.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> sl.write_csv("curve.csv", curve, causes=True)
    >>> bool((sl.read_text_curve("curve.csv").curve.intensity == curve.intensity).all())
    True
    """
    _core.write_csv(fspath(path), curve, causes=causes)


def merge(
    low: Curve,
    high: Curve,
    *,
    name: str,
    scaled: str = "high",
    scale: Factor | float | None = None,
    keep: str = "smaller error",
    q_range_per_nm: Pair | None = None,
    q_cut_per_nm: float | None = None,
) -> Merged:
    """One curve from two configurations of one sample whose curves overlap in q.

    Both are fitted at once by one smooth curve, seen through the bins and the q resolution of each, times a scale.
    Every cause of error is propagated through the scale with its sign: what both share leaves it alone and goes on
    over the whole merged curve; what comes from counts is the coherent cause ``"merge scale: <name>"`` on the scaled
    part. Below the cut the points are those of ``low``, above it those of ``high``; none are averaged.

    Parameters
    ----------
    low, high : Curve
        Of the longer and the shorter camera, in one unit, with three points or more of each in the overlap.
    name : str
        Of the sample, for the cause's id.
    scaled : "high" or "low"
        Which curve is multiplied.
    scale : Factor or float, optional
        Fixed instead of fitted; 1.0 trusts both absolute scales.
    keep : "smaller error" or "better resolution"
        Chooses the cut: most information, or sharpest points.
    q_range_per_nm : (float, float), optional
        Where the curves are compared; the whole overlap otherwise.
    q_cut_per_nm : float, optional
        Where to change over.

    Returns
    -------
    Merged
        ``curve``, ``scale`` (a :class:`Factor`), ``scale_u``, ``overlap_per_nm``, ``q_cut_per_nm``, ``points_low``,
        ``points_high``, and the agreement in the overlap with all causes: ``chi2``, ``degrees_of_freedom``,
        ``p_value``; ``warnings`` where the shapes differ or absolute curves need a scale; ``notes``.

    Raises
    ------
    InputError
        No overlap, different units or slits, wrong order. NumericalError where the overlap does not scatter.

    Notes
    -----
    H. Akaike, IEEE Trans. Autom. Control 19 (1974) 716 (number of splines); JCGM 100:2008 (GUM) 5.2.2 (propagation).

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> low = sl.curve.crop(curve, q_high_per_nm=1.0)
    >>> high = 1.1 * sl.curve.crop(curve, q_low_per_nm=0.5)  # on a scale that is wrong by 10 %
    >>> merged = sl.merge(low, high, name="tile")
    >>> round(merged.scale.value, 3), len(merged.curve)
    (0.909, 90)
    """
    return _core.merge(
        low,
        high,
        name=name,
        scaled=scaled,
        keep=keep,
        scale=scale if scale is None or isinstance(scale, Factor) else Factor(float(scale)),
        q_range_per_nm=None if q_range_per_nm is None else Range(*q_range_per_nm),
        q_cut_per_nm=q_cut_per_nm,
    )


def _step(step: Step) -> ProcessStep:
    if isinstance(step, ProcessStep):
        return step
    name, description, terms = step
    pairs = terms.items() if isinstance(terms, Mapping) else terms
    return ProcessStep(name, description, [(str(key), str(value)) for key, value in pairs])


def write_nxcansas(
    path: str | PathLike[str],
    curve: Curve | Sequence[NamedCurve],
    *,
    title: str = "",
    run: str = "",
    sample_name: str = "",
    thickness_mm: float = math.nan,
    transmission: float = math.nan,
    temperature_C: float = math.nan,
    sample_details: Sequence[str] = (),
    probe: str = "x-ray",
    source_type: str = "",
    beam_shape: str = "",
    wavelength_nm: float = math.nan,
    wavelength_spread: float = math.nan,
    collimation_length_mm: float = math.nan,
    detector_name: str = "",
    distance_mm: float = math.nan,
    beam_center_px: Pair = (math.nan, math.nan),
    pixel_size_mm: Pair = (math.nan, math.nan),
    pitch_deg: float = math.nan,
    yaw_deg: float = math.nan,
    roll_deg: float = math.nan,
    slit_length_per_nm: float = math.nan,
    steps: Sequence[Step] = (),
    notes: Sequence[str] = (),
) -> None:
    """Write one curve, or several with their names, as a NXcanSAS file; the same curves always give the same bytes.

    Idev holds what scatters from point to point, Qdev the resolution, dQw and dQl a slit; the uncertainty of the cause
    "absolute scale" stands on the scaling factor, and every cause has a vector of its own, so that :func:`read_curves`
    gives back the same curve.

    Parameters
    ----------
    curve : Curve or sequence of NamedCurve
        ``NamedCurve("entry/data", curve, info)``, as :func:`read_curves` gives them, each with its own info: then the
        arguments below are not used.
    probe, source_type : str
        Words of the NeXus base class NXsource, e.g. "x-ray", "Fixed Tube X-ray".
    wavelength_spread : float
        Relative, one standard deviation.
    beam_center_px, pixel_size_mm : (x, y)
    pitch_deg, yaw_deg, roll_deg, slit_length_per_nm : float
        Of the detector.
    steps : processing steps, each (name, sentence, terms) or a :class:`ProcessStep`.

    Raises
    ------
    InputError
        No curve, two for one place in the file, or a probe that NeXus does not list.
    DataError
        The file cannot be written.

    Notes
    -----
    Numbers that are not known are left as NaN and not written. NeXus application definition NXcanSAS 1.1.

    Examples
    --------
    >>> import sievelight as sl
    >>> step = ("absolute scale", "Factor from glassy carbon.", {"k": 1.02})
    >>> sl.write_nxcansas("tile.h5", sl.examples.curve(), title="invented", thickness_mm=1.0, steps=[step])
    >>> (tile,) = sl.read_curves("tile.h5")
    >>> tile.info.thickness_mm, tile.info.steps[0].name
    (1.0, 'absolute scale')
    """
    if not isinstance(curve, Curve):
        _core.write_nxcansas(fspath(path), list(curve))
        return
    instrument = InstrumentInfo()
    instrument.probe = probe
    instrument.source_type = source_type
    instrument.beam_shape = beam_shape
    instrument.wavelength_nm = wavelength_nm
    instrument.wavelength_spread = wavelength_spread
    instrument.collimation_length_mm = collimation_length_mm
    instrument.detector_name = detector_name
    instrument.distance_mm = distance_mm
    instrument.beam_center_px = beam_center_px
    instrument.pixel_size_mm = pixel_size_mm
    instrument.pitch_deg = pitch_deg
    instrument.yaw_deg = yaw_deg
    instrument.roll_deg = roll_deg
    instrument.slit_length_per_nm = slit_length_per_nm
    info = CurveInfo()
    info.title = title
    info.run = run
    info.sample_name = sample_name
    info.thickness_mm = thickness_mm
    info.transmission = transmission
    info.temperature_C = temperature_C
    info.sample_details = list(sample_details)
    info.instrument = instrument
    info.steps = [_step(step) for step in steps]
    info.notes = list(notes)
    _core.write_nxcansas(fspath(path), curve, info)
