# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves of one sample along time, temperature, humidity or dose.

Which one do I use? `find_change` for the first frame whose *scattering* differs from the start, and whether it is the
start's curve scaled (a changed contrast: pores that fill evenly) or another one. `hysteresis` for the two branches of a
cycle. `kelvin_radius_nm` beside both: which pores water fills at a humidity.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import Curve, Hysteresis, SeriesChange, SeriesFrame
from sievelight.errors import input_error

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

    Examples
    --------
    >>> import sievelight as sl
    >>> dry = [sl.examples.curve(seed=k) for k in (1, 2)]
    >>> wet = [0.8 * sl.examples.curve(seed=k) for k in (3, 4)]  # the contrast falls, the pores stay
    >>> found = sl.series.find_change([*dry, *wet])
    >>> found.first, round(found.frames[2].contrast_ratio.value, 2), found.frames[2].another_shape
    (2, 0.8, False)
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

    Returns
    -------
    Hysteresis
        `area` (unit of y times that of x), `mean_difference` (area over the length of the `common` range), `p_zero`
        (two-sided, normal) and `turning_point`, the place of the largest x.

    Raises
    ------
    InputError
        No maximum inside, branches that are not monotonic or share no range, or both a covariance and u.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.series.hysteresis([20, 50, 80, 50, 20], [1.0, 2.0, 4.0, 3.0, 1.0], u=[0.1] * 5)
    >>> round(found.area.value, 6), found.turning_point, found.p_zero < 0.001
    (30.0, 2, True)
    """
    if covariance is not None and u is not None:
        raise input_error(
            "both a covariance and u are given.", "Give one of them; the covariance holds u on its diagonal."
        )
    values = np.asarray(y, dtype=float)
    v = (
        np.diag(np.asarray(u, dtype=float) ** 2)
        if u is not None
        else np.asarray(np.zeros((values.size, values.size)) if covariance is None else covariance, dtype=float)
    )
    return _core.hysteresis(np.asarray(x, dtype=float), values, v)


def kelvin_radius_nm(relative_humidity_percent: ArrayLike, *, temperature_C: ArrayLike = 25.0) -> np.ndarray | float:
    """Radius of the meniscus of water in equilibrium with its vapour, fully wetting: r = -2 γ V_m / (R T ln RH).

    A pore fills when its radius, less the adsorbed film of some 0.3 to 0.6 nm, is below this (common practice).

    Parameters
    ----------
    relative_humidity_percent, temperature_C : numbers, or arrays that go together.

    Returns
    -------
    float or array, nm

    Raises
    ------
    InputError
        Outside 0 to 100 °C, or unless 0 < RH < 100 %.

    Notes
    -----
    Sir W. Thomson, Phil. Mag. 42 (1871) 448; surface tension γ: IAPWS R1-76(2014) (both from memory); molar volume V_m
    from the density of G. S. Kell, J. Chem. Eng. Data 20 (1975) 97.

    Examples
    --------
    >>> import sievelight as sl
    >>> round(float(sl.series.kelvin_radius_nm(50.0, temperature_C=25.0)), 2)
    1.51
    """
    return _core.kelvin_radius_nm(relative_humidity_percent, temperature_C)
