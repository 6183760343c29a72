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

    ``components`` are those of :func:`sievelight.geometry.geometry_components`, or (id, geometry at +1 sd).
    """
    pairs = [c if isinstance(c, tuple) else (c.id, c.shifted_plus) for c in components]
    return [_core.geometry_shift(id, table, geometry, shifted) for id, shifted in pairs]


def add_geometry_causes(
    curve: Curve, shifts: Sequence[GeometryShift], *, solid_angle: bool = False, half_width: int = 5
) -> Curve:
    """The curve with one coherent cause per shift: u = -(dI/dq) Delta q, dI/dq from a smooth local fit.

    ``solid_angle=True`` adds the change of the solid angle, for curves whose absolute scale is not from a standard
    measured in the same geometry. Sign: how the reported curve moves as the parameter moves by +1 sd.
    """
    return _core.add_geometry_causes(curve, list(shifts), solid_angle=solid_angle, half_width=half_width)


def add_wavelength_cause(curve: Curve, *, relative_u: float) -> Curve:
    """The curve with the coherent cause ``"wavelength"``; not where rings gave the distance (they carry it)."""
    return _core.add_wavelength_cause(curve, relative_u)


def q_u_per_nm(shifts: Sequence[GeometryShift]) -> NDArray[np.float64]:
    """Standard uncertainty of q of every bin (n), 1/nm, from all causes of the calibration; coherent, so q errors of
    different bins and of different curves go together. InputError without a shift."""
    if not shifts:
        raise input_error("q_u_per_nm: no shift was given.", "Give those of geometry_shifts().")
    u: NDArray[np.float64] = np.sqrt(np.sum([np.square(shift.delta_q_per_nm) for shift in shifts], axis=0))
    return u
