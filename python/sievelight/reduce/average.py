# SPDX-License-Identifier: GPL-3.0-or-later
"""One measurement into bins: the corrections of its pixels and the ratio of sums."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import (
    Absolute,
    Absorber,
    Averaged,
    AverageOptions,
    BinTable,
    Blur,
    FlatField,
    Frame,
    FrameFile,
    PixelMap,
    Step,
    StepEffect,
)
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Pair


def flat_field(frame: Frame, *, name: str, map: PixelMap | None = None, dark: Frame | None = None) -> FlatField:
    """Flat field from the counts of even illumination, minus its dark.

    Its counts become a cause of error of every curve it corrects.

    Parameters
    ----------
    frame : counts (rows, columns), many.
    name : stands in the cause ``"flat field: <name>"``.
    map : where a source at the sample's place shone evenly in all directions, for the pixels' solid angles.
    dark : without illumination.

    Returns
    -------
    FlatField
        ``response`` (rows, columns), brought to mean 1 where it is used, and its ``relative_u``.

    Raises
    ------
    InputError
        Unlike shapes, or a dark without an exposure.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> counts = np.full((96, 96), 1e4)
    >>> counts[:, :48] = 1.1e4  # a more sensitive half
    >>> flat = sl.reduce.flat_field(sl.frames.Frame(counts, exposure_s=10.0), name="lamp")
    >>> round(float(flat.response[0, 0] / flat.response[0, 95]), 3), round(float(flat.relative_u[0, 95]), 3)
    (1.1, 0.01)
    """
    return _core.flat_field_from_counts(frame, name, None if map is None else map.solid_angle_sr, dark)  # type: ignore[arg-type]  # None is none


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
    dead_time_u_s : float
        Its standard uncertainty: coherent cause ``"dead time"``.
    sensor : Absorber, optional
        mu and thickness of the sensor, for its efficiency at oblique incidence: cause ``"sensor efficiency"``.
    flight_path : Absorber or several
        Air, gas and windows between sample and detector: causes ``"flight path: <name>"``.
    polarization_fraction, polarization_u, polarization_plane_deg
        Share whose field lies in the plane (0 = horizontal), 0.5 = unpolarised; cause ``"polarisation"``.
    off : sequence of str
        Steps to leave out although they are known, by the names of :func:`reduction_steps`.
    sectors_deg : sequence of (low, high), optional
        Azimuths from +x towards +y, anticlockwise; high may exceed 180.
    blur : Blur, optional
        Beam, pixel and wavelength spread; gives the curves their q resolution.

    Raises
    ------
    InputError
        A mask or flat field of another size, everything masked, edges that do not rise, impossible numbers.

    Notes
    -----
    B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201.

    Examples
    --------
    >>> import sievelight as sl
    >>> map, mask = sl.pixel_map(sl.examples.geometry(), 96, 96), sl.examples.mask()
    >>> blur = sl.Blur(beam_fwhm_mm=0.5, pixel_size_x_mm=1.0, pixel_size_y_mm=1.0)
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=50), mask=mask, blur=blur)
    >>> tile = averager.average(sl.examples.frame(), name="tile")
    >>> cell = averager.average(sl.examples.background(), name="cell")
    >>> tile.curve.unit, bool((tile.curve.q_resolution_per_nm > 0).all())
    ('relative', True)
    """

    def __init__(
        self,
        map: PixelMap,
        *,
        edges_per_nm: ArrayLike,
        mask: ArrayLike | None = None,
        dead_time_s: float | None = None,
        dead_time_model: str = "non-paralyzable",
        dead_time_u_s: float = 0.0,
        flat_field: FlatField | None = None,
        sensor: Absorber | None = None,
        flight_path: Absorber | Sequence[Absorber] = (),
        polarization_fraction: float = 0.5,
        polarization_u: float = 0.0,
        polarization_plane_deg: float = 0.0,
        off: Sequence[str] = (),
        sectors_deg: Sequence[Pair] = (),
        blur: Blur | None = None,
    ) -> None:
        options = average_options(
            dead_time_s=dead_time_s,
            dead_time_model=dead_time_model,
            dead_time_u_s=dead_time_u_s,
            flat_field=flat_field,
            sensor=sensor,
            flight_path=flight_path,
            polarization_fraction=polarization_fraction,
            polarization_u=polarization_u,
            polarization_plane_deg=polarization_plane_deg,
            off=off,
            sectors_deg=sectors_deg,
            blur=blur,
        )
        self._core = _core.Averager(map, arguments.mask(mask), np.asarray(edges_per_nm, float), options)

    @property
    def table(self) -> BinTable:
        """Which bin each pixel belongs to."""
        return self._core.table

    def average(self, frames: Frame | Iterable[Frame], **options: Any) -> Averaged:
        """One measurement; options as those of :func:`average` from ``name`` to ``check_scatter``."""
        return self._core.average(arguments.frames(frames), _core.ExposureOptions(**options))

    def average_counts(
        self,
        counts: ArrayLike,
        *,
        exposure_s: float = float("nan"),
        monitor: float | None = None,
        mask: ArrayLike | None = None,
        saturation_value: float | None = None,
        **options: Any,
    ) -> Averaged:
        """One exposure from an array (rows, columns) of any number type, without a copy: the fastest way from memory.

        What its type says is no count is left out, with a note: negative whole numbers, the type's largest, NaN, and
        what reaches ``saturation_value``. ``mask`` is the exposure's own, beside that of the Averager. Options as those
        of :func:`average` from ``name`` to ``check_scatter``.
        """
        return self._core.average_counts(
            np.asarray(counts),
            arguments.mask(mask),
            exposure_s,
            monitor,
            saturation_value,
            _core.ExposureOptions(**options),
        )

    def average_each(self, file: FrameFile, *, frames: Sequence[int] = (), **options: Any) -> list[Averaged]:
        """Each exposure of a file as a measurement of its own, ``<name>-000`` and so on; empty ``frames`` are all.

        Reading, decoding and averaging go on at once on all cores, and no whole frame is kept in memory; the numbers are
        those of :meth:`average` bit for bit. Options as those of :func:`average` from ``name`` to ``check_scatter``.
        """
        return self._core.average_each(file, list(frames), _core.ExposureOptions(**options))


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
    dead_time_u_s: float = 0.0,
    flat_field: FlatField | None = None,
    sensor: Absorber | None = None,
    flight_path: Absorber | Sequence[Absorber] = (),
    polarization_fraction: float = 0.5,
    polarization_u: float = 0.0,
    polarization_plane_deg: float = 0.0,
    off: Sequence[str] = (),
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

    Notes
    -----
    Poisson likelihood of a flat intensity inside a bin.

    Examples
    --------
    >>> import sievelight as sl
    >>> map, mask = sl.pixel_map(sl.examples.geometry(), 96, 96), sl.examples.mask()
    >>> edges = sl.make_bins(map, mask=mask, bins=50)
    >>> tile = sl.average(sl.examples.frame(), map=map, edges_per_nm=edges, mask=mask, name="tile")
    >>> len(tile.curve), tile.exposure_s, [step.name for step in tile.steps if step.applied]
    (50, 100.0, ['mask', 'counts', 'exposure and flux', 'solid angle', 'polarisation'])
    """
    options = average_options(
        dead_time_s=dead_time_s,
        dead_time_model=dead_time_model,
        dead_time_u_s=dead_time_u_s,
        flat_field=flat_field,
        sensor=sensor,
        flight_path=flight_path,
        polarization_fraction=polarization_fraction,
        polarization_u=polarization_u,
        polarization_plane_deg=polarization_plane_deg,
        off=off,
        sectors_deg=sectors_deg,
        blur=blur,
    )
    exposure = _core.ExposureOptions(
        name=name,
        dark=dark,  # type: ignore[arg-type]  # None is none
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
    """Every step of a reduction in the order in which it acts, each with ``name``, ``equation``, ``parameters``,
    ``uncertainty`` and ``source``.

    Examples
    --------
    >>> import sievelight as sl
    >>> [step.name for step in sl.reduce.reduction_steps()][:3]
    ['mask', 'counts', 'dead time']
    """
    return _core.reduction_steps()


def average_options(
    *,
    sectors_deg: Sequence[Pair] = (),
    flight_path: Absorber | Sequence[Absorber] = (),
    off: Sequence[str] = (),
    **options: Any,
) -> AverageOptions:
    """The corrections and sectors of a geometry as one object; arguments, units and errors as those of :class:`Averager`.

    Examples
    --------
    >>> import sievelight as sl
    >>> air = sl.reduce.Absorber(mu_per_cm=0.01, length_mm=80.0, name="air")
    >>> options = sl.reduce.average_options(dead_time_s=1e-7, flight_path=air, off=["polarisation"])
    >>> type(options).__name__
    'AverageOptions'
    """
    sectors = [(float(np.radians(low)), float(np.radians(high))) for low, high in sectors_deg]
    path = [flight_path] if isinstance(flight_path, Absorber) else list(flight_path)
    return AverageOptions(sectors_rad=sectors, flight_path=path, off=list(off), **options)


def check_step(name: str) -> None:
    """Ask whether a step can be switched off.

    Parameters
    ----------
    name : of a step, as :func:`reduction_steps` names them.

    Raises
    ------
    InputError
        There is no step of this name, or it cannot be switched off.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.reduce.check_step("polarisation")
    >>> sl.reduce.check_step("polarization")
    Traceback (most recent call last):
        ...
    sievelight.InputError: 'polarization' is no step of a reduction.
    ...
    """
    _core.check_step(name)


def whole_chain(averaged: Averaged, absolute: Absolute) -> list[StepEffect]:
    """Every step of a measurement in order, with what it changed and the relative uncertainty it added, all relative to
    the intensity after the background.

    Parameters
    ----------
    averaged, absolute : the two halves of one measurement's reduction.

    Returns
    -------
    list of StepEffect
        ``name``, ``applied``, ``note``, and factor and relative u at low, middle and high q.

    Examples
    --------
    >>> import sievelight as sl
    >>> map, mask = sl.pixel_map(sl.examples.geometry(), 96, 96), sl.examples.mask()
    >>> edges = sl.make_bins(map, mask=mask, bins=50)
    >>> tile = sl.average(sl.examples.frame(), map=map, edges_per_nm=edges, mask=mask, name="tile")
    >>> done = sl.absolute_curve(tile, transmission=0.4, thickness_mm=1.0)
    >>> [step.name for step in sl.reduce.whole_chain(tile, done) if step.applied]
    ['mask', 'counts', 'exposure and flux', 'solid angle', 'polarisation', 'transmission', 'thickness']
    """
    return _core.whole_chain(averaged.steps, absolute.steps)
