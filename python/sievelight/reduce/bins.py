# SPDX-License-Identifier: GPL-3.0-or-later
"""Bins in q that suit a detector and its mask."""

from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import PixelMap
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Floats, Pair


def log_edges(q_low_per_nm: float, q_high_per_nm: float, bins: int) -> Floats:
    """Bin edges in equal steps of ln q.

    Parameters
    ----------
    q_low_per_nm, q_high_per_nm : the range, 1/nm.
    bins : their number.

    Returns
    -------
    array (bins + 1), rising, 1/nm

    Raises
    ------
    InputError
        Unless 0 < low < high and bins >= 1.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.reduce.log_edges(0.1, 10.0, 2).round(6).tolist()
    [0.1, 1.0, 10.0]
    """
    return _core.log_edges(q_low_per_nm, q_high_per_nm, bins)


def linear_edges(q_low_per_nm: float, q_high_per_nm: float, bins: int) -> Floats:
    """Bin edges in equal steps of q.

    Parameters
    ----------
    q_low_per_nm, q_high_per_nm : the range, 1/nm.
    bins : their number.

    Returns
    -------
    array (bins + 1), rising, 1/nm

    Raises
    ------
    InputError
        Unless 0 <= low < high and bins >= 1.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.reduce.linear_edges(0.0, 2.0, 4).tolist()
    [0.0, 0.5, 1.0, 1.5, 2.0]
    """
    return _core.linear_edges(q_low_per_nm, q_high_per_nm, bins)


def usable_q(map: PixelMap, *, mask: ArrayLike | None = None) -> Pair:
    """Smallest and largest q of the pixels that are not masked; the smallest is just outside the beamstop.

    Parameters
    ----------
    map : from :func:`sievelight.geometry.pixel_map`.
    mask : (rows, columns), True = not used.

    Returns
    -------
    (low, high), 1/nm

    Raises
    ------
    InputError
        The mask has another shape or hides everything.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> low, high = sl.reduce.usable_q(map, mask=sl.examples.mask())
    >>> round(low, 2), round(high, 2)
    (0.17, 4.68)
    """
    low, high = _core.usable_q(map, arguments.mask(mask))
    return low, high


def make_bins(
    map: PixelMap,
    *,
    mask: ArrayLike | None = None,
    bins: int = 200,
    spacing: str = "log",
    q_range_per_nm: Pair | None = None,
) -> Floats:
    """Bin edges that suit a detector and its mask.

    Parameters
    ----------
    map : PixelMap
        What every pixel sees, from :func:`sievelight.geometry.pixel_map`.
    mask : array of bool (rows, columns), optional
        True = do not use.
    bins, spacing, q_range_per_nm
        Number of bins, ``"log"`` or ``"linear"``, and the range (default: that of the unmasked pixels).

    Returns
    -------
    array (bins + 1), rising, 1/nm

    Raises
    ------
    InputError
        The mask has another shape or hides everything, or the range is impossible.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> edges = sl.make_bins(map, mask=sl.examples.mask(), bins=50)
    >>> edges.shape, f"{edges[0]:.2f} to {edges[-1]:.2f} 1/nm"
    ((51,), '0.17 to 4.68 1/nm')
    """
    return _core.make_bins(map, arguments.mask(mask), bins=bins, spacing=spacing, q_range_per_nm=q_range_per_nm)
