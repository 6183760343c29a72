# SPDX-License-Identifier: GPL-3.0-or-later
"""Averages over azimuth, over azimuth and q, and by area. Corrections and exposures as in :func:`average`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import AreaAveraged, AzimuthalProfile, DetectorGeometry, Frame, PixelMap, QAzimuthMap
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Floats, Pair
from sievelight.reduce.average import average_options

_EXPOSURE = frozenset(
    "name dark dark_name normalise_by normalise_relative_u flux_per_s flux_relative_u few_counts check_scatter".split()
)


def _split(options: dict[str, Any]) -> tuple[_core.AverageOptions, _core.ExposureOptions]:
    """Options of :func:`average`, sorted into those of the geometry and those of the measurement."""
    exposure = {key: value for key, value in options.items() if key in _EXPOSURE}
    rest = {key: value for key, value in options.items() if key not in _EXPOSURE}
    return average_options(sectors_deg=rest.pop("sectors_deg", ()), **rest), _core.ExposureOptions(**exposure)


def _azimuths(bins: int | ArrayLike) -> Floats:
    return _core.azimuth_edges(bins) if isinstance(bins, int) else np.asarray(bins, float)


def azimuthal_profile(
    frames: Frame | Iterable[Frame],
    *,
    map: PixelMap,
    q_range_per_nm: Pair,
    bins: int | ArrayLike = 72,
    mask: ArrayLike | None = None,
    **options: Any,
) -> AzimuthalProfile:
    """Intensity against azimuth in an annulus of q: S = sum(N - D t/t_D) / sum(h), unbiased at any count.

    Parameters
    ----------
    frames : Frame or several
        Exposures of one measurement.
    map : PixelMap
    q_range_per_nm : (low, high)
        The annulus, 1/nm; a pixel belongs to it by its centre.
    bins : int or array (n + 1)
        Number of equal bins from 0 to 360 degrees, or rising edges in degrees that span 360 at most. Azimuth counts from
        +x towards +y.
    mask : array of bool (rows, columns), optional
        True = do not use.
    **options
        Those of :func:`average` (``name``, ``dark``, corrections ...), except ``blur``.

    Returns
    -------
    AzimuthalProfile
        ``azimuth_deg`` (mean of the pixels), ``low_deg``, ``high_deg``, ``intensity``, ``u``, ``counts``, ``pixels``,
        ``normalisation`` of the bins that hold pixels; ``empty_bins`` are the gaps.

    Raises
    ------
    InputError
        Impossible edges or range, no unmasked pixel in the annulus, and as :func:`average`.

    Notes
    -----
    Poisson likelihood of a flat intensity inside a bin. See also: :func:`sievelight.analysis.anisotropy`.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> profile = sl.azimuthal_profile(sl.examples.background(), map=map, q_range_per_nm=(0.5, 1.5), bins=24)
    >>> profile.intensity.shape, profile.empty_bins
    ((24,), [])
    """
    average, exposure = _split(options)
    low, high = q_range_per_nm
    return _core.azimuthal_profile(
        arguments.frames(frames), map, arguments.mask(mask), float(low), float(high), _azimuths(bins), average, exposure
    )


def q_azimuth_map(
    frames: Frame | Iterable[Frame],
    *,
    map: PixelMap,
    q_edges_per_nm: ArrayLike,
    azimuth_bins: int | ArrayLike = 72,
    mask: ArrayLike | None = None,
    **options: Any,
) -> QAzimuthMap:
    """A frame as a table over azimuth (rows) and q (columns): rings become straight lines.

    Parameters
    ----------
    frames, map, mask, **options
        As for :func:`azimuthal_profile`.
    q_edges_per_nm : array (columns + 1), 1/nm
        From :func:`make_bins`; fewer bins than for a curve keep the cells filled.
    azimuth_bins : int or array (rows + 1), degrees

    Returns
    -------
    QAzimuthMap
        ``intensity``, ``u``, ``counts``, ``pixels`` (azimuths, q); cells without a pixel have ``pixels`` = 0 and hold
        zeros, never NaN. Draw it with :func:`sievelight.plot.plot_q_azimuth_map`.

    Raises
    ------
    InputError
        Impossible edges, no unmasked pixel in the table, and as :func:`average`.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> edges = sl.reduce.linear_edges(0.3, 3.0, 10)
    >>> table = sl.q_azimuth_map(sl.examples.frame(), map=map, q_edges_per_nm=edges, azimuth_bins=12)
    >>> table.intensity.shape, int((table.pixels == 0).sum())
    ((12, 10), 0)
    """
    average, exposure = _split(options)
    return _core.q_azimuth_map(
        arguments.frames(frames),
        map,
        arguments.mask(mask),
        np.asarray(q_edges_per_nm, float),
        _azimuths(azimuth_bins),
        average,
        exposure,
    )


def area_average(
    frames: Frame | Iterable[Frame],
    *,
    geometry: DetectorGeometry,
    edges_per_nm: ArrayLike,
    mask: ArrayLike | None = None,
    **options: Any,
) -> AreaAveraged:
    """Average with every pixel shared among the bins it covers, by area: smooth at low q, for pictures only.

    Neighbouring points hold counts of the same pixels and are correlated, so this is no ``Curve``: fits and comparisons
    use :func:`average`.

    Parameters
    ----------
    frames, mask, **options
        As for :func:`average`, without ``sectors_deg``, ``blur`` and the monitor.
    geometry : DetectorGeometry
        Not the pixel map: q is needed inside the pixels.
    edges_per_nm : array (n + 1), 1/nm

    Returns
    -------
    AreaAveraged
        ``q_per_nm``, ``intensity``, ``u``; ``covariance`` (n, m), whose element (k, j) is that of the points k and k + j.

    Raises
    ------
    InputError
        As :func:`average`.

    Notes
    -----
    derivation; q is linear over a pixel, or over its parts near the beam.

    Examples
    --------
    >>> import sievelight as sl
    >>> edges = sl.reduce.linear_edges(0.3, 3.0, 60)
    >>> smooth = sl.reduce.area_average(sl.examples.frame(), geometry=sl.examples.geometry(), edges_per_nm=edges)
    >>> smooth.q_per_nm.shape, smooth.covariance.shape[0]
    ((60,), 60)
    """
    average, exposure = _split(options)
    given = arguments.frames(frames)
    rows, columns = given[0].counts.shape if given else (1, 1)
    averager = _core.AreaAverager(
        geometry, arguments.mask(mask), rows, columns, np.asarray(edges_per_nm, float), average
    )
    return averager.average(given, exposure)
