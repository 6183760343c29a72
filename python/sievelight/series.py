# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves of one sample along time, temperature, humidity or dose.

Which one do I use? `find_change` for the first frame whose *scattering* differs from the start, and whether it is the
start's curve scaled (a changed contrast: pores that fill evenly) or another one. `find_filling` for whether another shape
is the start's own pores with a fluid in the smaller ones. `hysteresis` for the two branches of a cycle, `cycles` to part
several. `kelvin_radius_nm` beside all: which pores water fills at a humidity.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import (
    Curve,
    Filling,
    FillingFrame,
    HardSpheres,
    Hysteresis,
    SeriesChange,
    SeriesFrame,
    Shape,
    SizeDistribution,
)
from sievelight.distribution import ShapeName, kernel_options
from sievelight.errors import input_error

__all__ = [
    "Filling",
    "FillingFrame",
    "Hysteresis",
    "SeriesChange",
    "SeriesFrame",
    "cycles",
    "find_change",
    "find_filling",
    "hysteresis",
    "kelvin_radius_nm",
    "start_of_series",
]


def find_change(curves: Sequence[Curve], *, start: int = 1, alpha: float = 0.05, bands: int = 20) -> SeriesChange:
    """The first curve of a series that differs from its start.

    Parameters
    ----------
    curves : two or more on the same bins, in the order of measurement, with their causes of error: what they share (absolute
        scale, background counts) cancels.
    start : how many of the first make the reference.
    alpha : chance that any frame of an unchanged series is claimed (Holm over its frames).
    bands : of neighbouring points, whose means are compared; 0 compares every point. A change is smooth in q, so bands
        see a smaller one.

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
    return _core.find_change(list(curves), start=start, alpha=alpha, bands=bands)


def start_of_series(curves: Sequence[Curve], *, start: int = 1) -> Curve:
    """The mean of a series' first curves, on the bins that all of its curves have: invert it for `find_filling`.

    Examples
    --------
    >>> import sievelight as sl
    >>> curves = [sl.examples.curve(seed=k) for k in (1, 2, 3)]
    >>> start = sl.series.start_of_series(curves, start=2)
    >>> bool((start.private_u < curves[0].private_u).all())  # two curves know more than one
    True
    """
    return _core.start_of_series(list(curves), start=start)


def find_filling(
    curves: Sequence[Curve],
    size: SizeDistribution,
    change: SeriesChange,
    *,
    start: int = 1,
    filled_ratio: float,
    shape: Shape | ShapeName = "sphere",
    interaction: HardSpheres | None = None,
    power_exponent: float = 4.0,
    alpha: float = 0.05,
) -> Filling:
    """Whether the start's own pores, filled with a fluid from the smallest up, give the later curves.

    Parameters
    ----------
    curves, start : as for `find_change`.
    size : the start's distribution, sampled method, of `start_of_series`.
    change : what `find_change` says of the same curves.
    filled_ratio : squared contrast of solid and fluid over that of solid and air; (1 - fluid / solid)² of their
        scattering-length densities.
    shape, interaction, power_exponent : as `size` was found with.
    alpha : chance that the filling of any frame is refused although it is one (Holm over its frames).

    Returns
    -------
    Filling
        ``words``, and ``frames``: ``filled_share`` of the pores' volume, ``filled_up_to_nm``, ``p_filling`` and
        ``refused``. ``share_covariance`` of the shares, whose errors have the start in common, is for `hysteresis`.

    Raises
    ------
    InputError
        A distribution without draws, a ratio outside 0 to 1, or as `find_change`.

    Examples
    --------
    >>> import sievelight as sl
    >>> curves = [sl.examples.curve(seed=k) for k in (1, 2)] + [0.9 * sl.examples.curve(seed=k) for k in (3, 4)]
    >>> change = sl.series.find_change(curves, start=2)
    >>> size = sl.invert(sl.series.start_of_series(curves, start=2))
    >>> found = sl.series.find_filling(curves, size, change, start=2, filled_ratio=0.25)
    >>> len(found.frames) == len(curves) and 0 < found.frames[2].filled_share.value < 0.3
    True
    """
    if size.cumulative_draws.size == 0:
        raise input_error("the distribution has no draws.", "Invert the start with the sampled method.")
    return _core.find_filling(
        list(curves),
        diameter_nm=size.diameter_nm,
        cumulative_draws=size.cumulative_draws,
        kernel=kernel_options(shape=shape, interaction=interaction, power_exponent=power_exponent),
        power_law=bool(np.isfinite(size.power_law_k.value)),
        change=change,
        start=start,
        filled_ratio=filled_ratio,
        alpha=alpha,
    )


def cycles(x: ArrayLike, *, same_within: float = 0.0) -> list[tuple[int, int]]:
    """First and last index of every cycle of a variable that rises and falls several times; a cycle's last point is the
    next one's first. Neighbours within `same_within` are repeats.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.series.cycles([10, 50, 90, 50, 10, 50, 90, 50, 10])
    [(0, 4), (4, 8)]
    """
    return _core.cycles(np.asarray(x, dtype=float), same_within)


def hysteresis(
    x: ArrayLike,
    y: ArrayLike,
    *,
    covariance: ArrayLike | None = None,
    u: ArrayLike | None = None,
    same_within: float = 0.0,
) -> Hysteresis:
    """Area between the two branches of a cycle, second branch less first, with its uncertainty.

    Parameters
    ----------
    x, y : (n) variable, rising to one maximum and falling after it, and a summary at each.
    covariance, u : (n, n) of y, or its standard uncertainties where nothing is shared.
    same_within : neighbours this near in x are repeats and count as their mean.

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
    return _core.hysteresis(np.asarray(x, dtype=float), values, v, same_within)


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
    radius_nm: NDArray[Any] | float = _core.kelvin_radius_nm(relative_humidity_percent, temperature_C)
    return radius_nm
