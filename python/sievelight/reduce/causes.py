# SPDX-License-Identifier: GPL-3.0-or-later
"""The calibration's error as causes of error of each curve."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from sievelight import _core
from sievelight._core import BinTable, Curve, DetectorGeometry, GeometryComponent, GeometryShift
from sievelight.errors import input_error


def geometry_shifts(
    components: Iterable[GeometryComponent | tuple[str, DetectorGeometry]],
    *,
    table: BinTable,
    geometry: DetectorGeometry,
) -> list[GeometryShift]:
    """How the bins move with each component of the calibration's error; made once per geometry.

    Parameters
    ----------
    components : those of :func:`sievelight.geometry.geometry_components`, or (id, geometry at +1 sd).
    table : which bin each pixel belongs to, from an :class:`Averager`.
    geometry : that the bins were made with.

    Returns
    -------
    list of GeometryShift
        Each with its ``id``, ``delta_q_per_nm`` (n) and ``relative_solid_angle`` (n).

    Notes
    -----
    Sensitivity coefficients, JCGM 100:2008 (GUM) 5.1.3.

    Examples
    --------
    >>> import sievelight as sl
    >>> at, mask = sl.examples.geometry(), sl.examples.mask()
    >>> map = sl.pixel_map(at, 96, 96)
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=30), mask=mask)
    >>> moved = [("distance", at.replace(distance_mm=at.distance_mm + 0.6))]  # 0.1 %
    >>> (shift,) = sl.reduce.geometry_shifts(moved, table=averager.table, geometry=at)
    >>> q = averager.average(sl.examples.frame()).curve.q_per_nm
    >>> round(float(shift.delta_q_per_nm[10] / q[10]), 3)
    -0.001
    """
    pairs = [c if isinstance(c, tuple) else (c.id, c.shifted_plus) for c in components]
    return [_core.geometry_shift(id, table, geometry, shifted) for id, shifted in pairs]


def add_geometry_causes(
    curve: Curve, shifts: Sequence[GeometryShift], *, solid_angle: bool = False, half_width: int = 5
) -> Curve:
    """The curve with one coherent cause per shift: u = -(dI/dq) Delta q, dI/dq from a smooth local fit.

    Sign: how the reported curve moves as the parameter moves by +1 sd.

    Parameters
    ----------
    curve : n points on the bins of the shifts.
    shifts : from :func:`geometry_shifts`.
    solid_angle : add the change of the solid angle, for curves whose absolute scale is not from a standard measured in the
        same geometry.
    half_width : points on either side of the local fit.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        The curve stands on other bins, or a cause of this id is pointwise in it.

    Notes
    -----
    Sensitivity coefficients, JCGM 100:2008 (GUM) 5.1.3.

    Examples
    --------
    >>> import sievelight as sl
    >>> at, mask = sl.examples.geometry(), sl.examples.mask()
    >>> map = sl.pixel_map(at, 96, 96)
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=30), mask=mask)
    >>> moved = [("distance", at.replace(distance_mm=at.distance_mm + 0.6))]
    >>> shifts = sl.reduce.geometry_shifts(moved, table=averager.table, geometry=at)
    >>> curve = sl.reduce.add_geometry_causes(averager.average(sl.examples.frame()).curve, shifts)
    >>> list(curve.causes), curve.causes["distance"].kind
    (['distance'], 'coherent')
    """
    return _core.add_geometry_causes(curve, list(shifts), solid_angle=solid_angle, half_width=half_width)


def add_wavelength_cause(curve: Curve, *, relative_u: float) -> Curve:
    """The curve with the coherent cause ``"wavelength"``; not where rings gave the distance (they carry it).

    Parameters
    ----------
    curve : n points.
    relative_u : relative standard uncertainty of the wavelength.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        A relative uncertainty below zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.reduce.add_wavelength_cause(sl.examples.curve(), relative_u=1e-3)
    >>> list(curve.causes)
    ['wavelength']
    """
    return _core.add_wavelength_cause(curve, relative_u)


def q_u_per_nm(shifts: Sequence[GeometryShift]) -> NDArray[np.float64]:
    """Standard uncertainty of q of every bin, from all causes of the calibration.

    It is coherent: q errors of different bins and of different curves go together.

    Parameters
    ----------
    shifts : from :func:`geometry_shifts`.

    Returns
    -------
    array (n), 1/nm

    Raises
    ------
    InputError
        There is no shift.

    Examples
    --------
    >>> import sievelight as sl
    >>> at, mask = sl.examples.geometry(), sl.examples.mask()
    >>> map = sl.pixel_map(at, 96, 96)
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=30), mask=mask)
    >>> moved = [("distance", at.replace(distance_mm=at.distance_mm + 0.6))]
    >>> u = sl.reduce.q_u_per_nm(sl.reduce.geometry_shifts(moved, table=averager.table, geometry=at))
    >>> u.shape, bool(u[0] < u[-1])
    ((30,), True)
    """
    if not shifts:
        raise input_error("q_u_per_nm: no shift was given.", "Give those of geometry_shifts().")
    u: NDArray[np.float64] = np.sqrt(np.sum([np.square(shift.delta_q_per_nm) for shift in shifts], axis=0))
    return u
