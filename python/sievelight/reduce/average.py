# SPDX-License-Identifier: GPL-3.0-or-later
"""One measurement into bins: the corrections of its pixels and the ratio of sums."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import Averaged, BinTable, Blur, FlatField, Frame, PixelMap, Step
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Pair


def flat_field(frame: Frame, *, name: str, map: PixelMap | None = None) -> FlatField:
    """Flat field from the counts of even illumination, or (with ``map``) of a source at the sample's place that shines
    evenly in all directions. Its counts become a cause of error of every curve it corrects."""
    return _core.flat_field_from_counts(frame, name, None if map is None else map.solid_angle_sr)


class Averager:
    """Bins, mask and normalisations of one geometry, made once; :meth:`average` then touches each pixel once.

    Parameters
    ----------
    map : PixelMap
    edges_per_nm : array (n + 1)
        From :func:`make_bins`.
    mask : array of bool (rows, columns), optional
        True = do not use. Use one mask for all measurements that are compared.
    dead_time_s, dead_time_model
        ``"non-paralyzable"`` or ``"paralyzable"``; per pixel and exposure. Skipped, with a note, where the file says its
        counts are corrected.
    flat_field : FlatField, optional
    sensor : (mu in 1/cm, thickness in mm), optional
        For the sensor's efficiency at oblique incidence.
    flight_path : (mu in 1/cm, length in mm), optional
        Air or gas between sample and detector.
    solid_angle : bool
    polarization_fraction : float or None
        Horizontal share, 0.5 = unpolarised; None = off.
    sectors_deg : sequence of (low, high), optional
        Azimuths from +x towards +y, anticlockwise; high may exceed 180.
    blur : Blur, optional
        Beam, pixel and wavelength spread; gives the curves their q resolution.

    Source: B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201.
    """

    def __init__(
        self,
        map: PixelMap,
        *,
        edges_per_nm: ArrayLike,
        mask: ArrayLike | None = None,
        dead_time_s: float | None = None,
        dead_time_model: str = "non-paralyzable",
        flat_field: FlatField | None = None,
        sensor: Pair | None = None,
        flight_path: Pair | None = None,
        solid_angle: bool = True,
        polarization_fraction: float | None = 0.5,
        sectors_deg: Sequence[Pair] = (),
        blur: Blur | None = None,
    ) -> None:
        options = _average_options(
            dead_time_s=dead_time_s,
            dead_time_model=dead_time_model,
            flat_field=flat_field,
            sensor=sensor,
            flight_path=flight_path,
            solid_angle=solid_angle,
            polarization_fraction=polarization_fraction,
            sectors_deg=sectors_deg,
            blur=blur,
        )
        self._core = _core.Averager(map, arguments.mask(mask), np.asarray(edges_per_nm, float), options)

    @property
    def table(self) -> BinTable:
        """Which bin each pixel belongs to."""
        return self._core.table

    def average(self, frames: Frame | Iterable[Frame], **options: object) -> Averaged:
        """One measurement; options as those of :func:`average` from ``name`` to ``check_scatter``."""
        return self._core.average(arguments.frames(frames), _core.ExposureOptions(**options))


def average(
    frames: Frame | Iterable[Frame],
    *,
    map: PixelMap,
    edges_per_nm: ArrayLike,
    name: str = "measurement",
    mask: ArrayLike | None = None,
    dark: Frame | None = None,
    dark_name: str = "dark",
    normalise_by: str = "exposure",
    normalise_relative_u: float = 0.0,
    flux_per_s: float | None = None,
    flux_relative_u: float = 0.0,
    few_counts: float = 10.0,
    check_scatter: bool = True,
    dead_time_s: float | None = None,
    dead_time_model: str = "non-paralyzable",
    flat_field: FlatField | None = None,
    sensor: Pair | None = None,
    flight_path: Pair | None = None,
    solid_angle: bool = True,
    polarization_fraction: float | None = 0.5,
    sectors_deg: Sequence[Pair] = (),
    blur: Blur | None = None,
) -> Averaged:
    """Average one measurement into bins: S = sum(N - D t/t_D) / sum(h), unbiased at any count.

    Parameters
    ----------
    frames : Frame or several
        Exposures of one measurement: counts add and exposures (or monitors) add. Give single exposures where a dead time
        is to be corrected.
    map, edges_per_nm, mask
        As for :class:`Averager`, like the corrections after ``check_scatter``.
    name : str
        Stands in messages and in the ids of the causes of error.
    dark : Frame, optional
        Its rate is scaled by the exposure; its counts become the pointwise cause ``"dark counts: <dark_name>"``.
    normalise_by : "exposure" or "monitor"
        ``normalise_relative_u`` becomes the coherent cause ``"exposure: <name>"`` or ``"monitor: <name>"``.
    flux_per_s, flux_relative_u
        Photons/s at the sample, for absolute intensity without a standard; coherent cause ``"flux"``.
    few_counts : float
        Bins with fewer counts get the variance N + 1 and are listed.
    check_scatter : bool
        Compare the scatter of the pixels in each bin with what their counts allow (``scatter_ratio``, 1 expected).

    Returns
    -------
    Averaged
        ``curve`` (relative), ``counts``, ``pixels``, ``normalisation``, ``scatter_ratio`` per bin; ``steps``, ``notes``.

    Raises
    ------
    InputError
        Frame, dark, flat field or mask of another size; no, or negative, exposure; everything masked; edges not rising.
    DataError
        An unmasked pixel with negative or not finite counts.

    Source: Poisson likelihood of a flat intensity inside a bin.
    """
    options = _average_options(
        dead_time_s=dead_time_s,
        dead_time_model=dead_time_model,
        flat_field=flat_field,
        sensor=sensor,
        flight_path=flight_path,
        solid_angle=solid_angle,
        polarization_fraction=polarization_fraction,
        sectors_deg=sectors_deg,
        blur=blur,
    )
    exposure = _core.ExposureOptions(
        name=name,
        dark=dark,
        dark_name=dark_name,
        normalise_by=normalise_by,
        normalise_relative_u=normalise_relative_u,
        flux_per_s=flux_per_s,
        flux_relative_u=flux_relative_u,
        few_counts=few_counts,
        check_scatter=check_scatter,
    )
    return _core.average(
        arguments.frames(frames), map, arguments.mask(mask), np.asarray(edges_per_nm, float), options, exposure
    )


def reduction_steps() -> list[Step]:
    """Every step of a reduction in the order in which it acts, with its equation and source."""
    return _core.reduction_steps()


def _average_options(*, sectors_deg: Sequence[Pair], **options: object) -> _core.AverageOptions:
    sectors = [(float(np.radians(low)), float(np.radians(high))) for low, high in sectors_deg]
    return _core.AverageOptions(sectors_rad=sectors, **options)
