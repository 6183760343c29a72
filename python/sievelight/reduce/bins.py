# SPDX-License-Identifier: GPL-3.0-or-later
"""Bins in q that suit a detector and its mask."""

from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import PixelMap
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Floats, Pair


def log_edges(q_low_per_nm: float, q_high_per_nm: float, bins: int) -> Floats:
    """``bins`` + 1 edges in equal steps of ln q, 1/nm. InputError unless 0 < low < high and bins >= 1."""
    return _core.log_edges(q_low_per_nm, q_high_per_nm, bins)


def linear_edges(q_low_per_nm: float, q_high_per_nm: float, bins: int) -> Floats:
    """``bins`` + 1 edges in equal steps of q, 1/nm. InputError unless 0 <= low < high and bins >= 1."""
    return _core.linear_edges(q_low_per_nm, q_high_per_nm, bins)


def usable_q(map: PixelMap, *, mask: ArrayLike | None = None) -> Pair:
    """Smallest and largest q (1/nm) of the pixels that are not masked; the smallest is just outside the beamstop."""
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
    """
    return _core.make_bins(map, arguments.mask(mask), bins=bins, spacing=spacing, q_range_per_nm=q_range_per_nm)
