# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves of one sample along time, temperature, humidity or dose.

Which one do I use? `find_change` for the first frame whose *scattering* differs from the start, and whether it is the
start's curve scaled (a changed contrast: pores that fill evenly) or another one. `hysteresis` for the two branches of a
cycle. `kelvin_radius_nm` beside both: which pores water fills at a humidity.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import Curve, Hysteresis, SeriesChange, SeriesFrame

__all__ = ["Hysteresis", "SeriesChange", "SeriesFrame", "find_change", "hysteresis", "kelvin_radius_nm"]


def find_change(curves: Sequence[Curve], *, start: int = 1, alpha: float = 0.05) -> SeriesChange:
    """The first curve of a series that differs from its start.

    Parameters
    ----------
    curves : two or more on the same bins, in the order of measurement, with their causes of error: what they share (absolute
        scale, background counts) cancels.
    start : how many of the first make the reference.
    alpha : chance that any frame of an unchanged series is claimed (Holm over its frames).

    Returns
    -------
    SeriesChange
        ``first`` (from 0; None), ``words``, and ``frames``: ``p_change``, ``changed``; ``contrast_ratio``, the factor on the
        start's curve (another flat level allowed); ``p_shape`` and ``another_shape``, whether a factor is not enough.
        Where condensing fluid fills pores evenly the factor is the ratio of the squared contrasts, and the pores are as
        they were; another shape means that some sizes fill before others, or that the pores have changed.

    Raises
    ------
    InputError
        Too few curves, other bins or units.
    """
    return _core.find_change(list(curves), start=start, alpha=alpha)


def hysteresis(
    x: ArrayLike, y: ArrayLike, *, covariance: ArrayLike | None = None, u: ArrayLike | None = None
) -> Hysteresis:
    """Area between the two branches of a cycle, second branch less first, with its uncertainty.

    Parameters
    ----------
    x, y : (n) variable, rising to one maximum and falling after it, and a summary at each.
    covariance, u : (n, n) of y, or its standard uncertainties where nothing is shared.

    Raises
    ------
    InputError
        No maximum inside, branches that are not monotonic or share no range.
    """
    values = np.asarray(y, dtype=float)
    v = (
        np.diag(np.asarray(u, dtype=float) ** 2)
        if u is not None
        else np.asarray(np.zeros((values.size, values.size)) if covariance is None else covariance, dtype=float)
    )
    return _core.hysteresis(np.asarray(x, dtype=float), values, v)


def kelvin_radius_nm(relative_humidity_percent: ArrayLike, *, temperature_C: ArrayLike = 25.0) -> np.ndarray | float:
    """Radius of the meniscus of water in equilibrium with its vapour, fully wetting, in nm.

    A pore fills when its radius, less the adsorbed film of some 0.3 to 0.6 nm, is below this (common practice).

    Raises
    ------
    InputError
        Outside 0 to 100 °C, or unless 0 < RH < 100 %.

    Examples
    --------
    >>> import sievelight as sl
    >>> round(float(sl.series.kelvin_radius_nm(50.0, temperature_C=25.0)), 2)
    1.51
    """
    radius_nm: NDArray[Any] | float = _core.kelvin_radius_nm(relative_humidity_percent, temperature_C)
    return radius_nm
