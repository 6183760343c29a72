# SPDX-License-Identifier: GPL-3.0-or-later
"""From frames to curves in 1/cm: bins, corrections, averages, transmission, background, absolute scale.

Which one do I use, and when?

* :func:`make_bins`, then :func:`average` for one measurement, or :class:`Averager` for many with one geometry.
* :func:`given_transmission`, :func:`transmission_from_monitors` or :func:`transmission_from_frames`.
* :func:`absolute_curve` subtracts the background and divides by transmission and thickness; for the standard without
  ``absolute_scale``, then :func:`absolute_scale` gives k for all other samples.
* :func:`fit_background_factor` where neither transmission nor the background's monitor are known.
* :func:`geometry_shifts` and :func:`add_geometry_causes` put the calibration's error on each curve.

Units: q in 1/nm, lengths in mm, times in s, intensity in 1/cm, angles in degrees. ``_u`` is a standard uncertainty.
"""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import (
    Absolute,
    AbsoluteScale,
    Averaged,
    BackgroundFactor,
    BinTable,
    Blur,
    Curve,
    DetectorGeometry,
    Factor,
    FlatField,
    Frame,
    GeometryComponent,
    GeometryShift,
    IntensityStandard,
    Measured,
    OverSubtraction,
    PixelMap,
    Step,
    StepEffect,
    Transmission,
)

__all__ = [
    "Absolute",
    "AbsoluteScale",
    "Averaged",
    "Averager",
    "BackgroundFactor",
    "Blur",
    "FlatField",
    "GeometryShift",
    "IntensityStandard",
    "Measured",
    "OverSubtraction",
    "Step",
    "StepEffect",
    "Transmission",
    "absolute_curve",
    "absolute_scale",
    "add_geometry_causes",
    "add_wavelength_cause",
    "average",
    "fit_background_factor",
    "flat_field",
    "geometry_shifts",
    "given_transmission",
    "linear_edges",
    "log_edges",
    "make_bins",
    "over_subtracted",
    "plate_self_absorption",
    "reduction_steps",
    "srm3600",
    "subtract_scaled",
    "transmission_from_frames",
    "transmission_from_monitors",
    "usable_q",
]

Floats = NDArray[np.float64]
Pair = tuple[float, float]


def log_edges(q_low_per_nm: float, q_high_per_nm: float, bins: int) -> Floats:
    """``bins`` + 1 edges in equal steps of ln q, 1/nm. InputError unless 0 < low < high and bins >= 1."""
    return _core.log_edges(q_low_per_nm, q_high_per_nm, bins)


def linear_edges(q_low_per_nm: float, q_high_per_nm: float, bins: int) -> Floats:
    """``bins`` + 1 edges in equal steps of q, 1/nm. InputError unless 0 <= low < high and bins >= 1."""
    return _core.linear_edges(q_low_per_nm, q_high_per_nm, bins)


def usable_q(map: PixelMap, *, mask: ArrayLike | None = None) -> Pair:
    """Smallest and largest q (1/nm) of the pixels that are not masked; the smallest is just outside the beamstop."""
    low, high = _core.usable_q(map, _mask(mask))
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
    return _core.make_bins(map, _mask(mask), bins=bins, spacing=spacing, q_range_per_nm=q_range_per_nm)


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
        self._core = _core.Averager(map, _mask(mask), np.asarray(edges_per_nm, float), options)

    @property
    def table(self) -> BinTable:
        """Which bin each pixel belongs to."""
        return self._core.table

    def average(self, frames: Frame | Iterable[Frame], **options: object) -> Averaged:
        """One measurement; options as those of :func:`average` from ``name`` to ``check_scatter``."""
        return self._core.average(_frames(frames), _core.ExposureOptions(**options))


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
    return _core.average(_frames(frames), map, _mask(mask), np.asarray(edges_per_nm, float), options, exposure)


def given_transmission(name: str, value: float, *, u: float = 0.0) -> Transmission:
    """Transmission of row ``name`` as a number, with everything in the beam, relative to the empty beam.

    Raises InputError when it is not above zero, or above 1 by more than three of its ``u``.
    """
    return _core.given_transmission(name, value, u)


def transmission_from_monitors(
    name: str,
    *,
    incident: float | Pair,
    transmitted: float | Pair,
    empty_name: str,
    empty_incident: float | Pair,
    empty_transmitted: float | Pair,
) -> Transmission:
    """T = (transmitted / incident) / (the same of the empty beam); each reading a number or (value, u).

    The empty beam's share of the error has an id of its own, common to all samples compared with it.
    """
    return _core.transmission_from_monitors(
        name,
        _reading(incident),
        _reading(transmitted),
        empty_name,
        _reading(empty_incident),
        _reading(empty_transmitted),
    )


def transmission_from_frames(
    name: str,
    sample: Frame,
    *,
    empty_name: str,
    empty: Frame,
    beam_center_px: Pair,
    radius_px: float,
    dead_time_s: float | None = None,
    dead_time_model: str = "non-paralyzable",
    dark_per_s: float = 0.0,
    attenuator: float | Pair = 1.0,
    empty_attenuator: float | Pair = 1.0,
    same_attenuator: bool = True,
) -> Transmission:
    """Transmission from exposures of the direct beam through the sample and without it, per exposure time.

    Parameters
    ----------
    beam_center_px : (x, y)
        Column and row of the beam.
    radius_px : float
        Acceptance: scattering beyond it counts as lost. Named in the result.
    dark_per_s : float
        Counts a pixel and second without beam.
    attenuator, empty_attenuator, same_attenuator
        Attenuators in the two exposures (a number or (value, u)); the same one in both cancels.

    Raises
    ------
    InputError
        Other sizes, no exposure, no pixel or masked (saturated) pixels inside the radius.
    """
    return _core.transmission_from_frames(
        name,
        sample,
        empty_name,
        empty,
        beam_center_x_px=beam_center_px[0],
        beam_center_y_px=beam_center_px[1],
        radius_px=radius_px,
        dead_time_s=dead_time_s,
        dead_time_model=dead_time_model,
        dark_per_s=dark_per_s,
        attenuator=_reading(attenuator),
        empty_attenuator=_reading(empty_attenuator),
        same_attenuator=same_attenuator,
    )


def absolute_curve(
    sample: Averaged | Measured | Curve,
    *,
    name: str | None = None,
    transmission: Transmission | Factor | float | None = None,
    background: Averaged | Measured | Curve | None = None,
    background_name: str | None = None,
    background_transmission: Transmission | Factor | float | None = None,
    background_scale: Factor | BackgroundFactor | float = 1.0,
    background_scale_u: float = 0.0,
    thickness_mm: float | None = None,
    thickness_u_mm: float = 0.0,
    absolute_scale: AbsoluteScale | Factor | float | None = None,
    self_absorption: bool = False,
    walls: str = "ignore",
    wavelength_nm: float = 0.0,
) -> Absolute:
    """dSigma/dOmega of a sample: I = (k/d) (1/C) [S_s/T_s - o f S_b/T_b].

    Parameters
    ----------
    sample, background : Averaged, Measured or Curve
        On the same bin edges. The background's counts become the pointwise cause ``"counts: <background>"``.
    transmission, background_transmission
        With everything in the beam, relative to the empty beam; 1 with a note where absent.
    background_scale, background_scale_u
        f; a number with u becomes the coherent cause ``"background scale: <background>"``.
    thickness_mm, thickness_u_mm
        d; cause ``"thickness: <sample>"``. Leave it out for a curve per sample instead of per cm.
    absolute_scale
        k from :func:`absolute_scale`; 1.0 says that S is absolute already (a flux was given).
    self_absorption : bool
        C of a plate normal to the beam; needs the transmission and ``wavelength_nm``.
    walls : "ignore", "upstream", "downstream" or "both"
        Where the cell's walls are that the background shows; seen obliquely through the sample.

    Returns
    -------
    Absolute
        ``curve`` in 1/cm (relative where thickness or scale is missing), ``steps``, ``notes``.

    Source: B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800; ISO 17867.
    """
    taken = None
    if background is not None:
        taken = _measured(background, background_name or "background", background_transmission)
    scale = _factor(background_scale)
    if background_scale_u:
        id = f"background scale: {taken.name if taken else 'background'}"
        scale = Factor(scale.value, {**scale.causes, id: background_scale_u})
    return _core.absolute_curve(
        _measured(sample, name or "sample", transmission),
        taken,
        thickness_mm=thickness_mm,
        thickness_u_mm=thickness_u_mm,
        absolute_scale=None if absolute_scale is None else _factor(absolute_scale),
        background_scale=scale,
        self_absorption=self_absorption,
        walls=walls,
        wavelength_nm=wavelength_nm,
    )


def fit_background_factor(
    sample: Averaged | Measured | Curve,
    background: Averaged | Measured | Curve,
    q_low_per_nm: float,
    q_high_per_nm: float,
    *,
    name: str | None = None,
    background_name: str | None = None,
    transmission: Transmission | Factor | float | None = None,
    background_transmission: Transmission | Factor | float | None = None,
) -> BackgroundFactor:
    """The factor that brings the background onto the sample where the sample is taken not to scatter.

    For files that give neither transmission nor the background's monitor; ``note`` says so for the findings. Give the
    result to :func:`absolute_curve` as ``background_scale``.
    """
    return _core.fit_background_factor(
        _measured(sample, name or "sample", transmission),
        _measured(background, background_name or "background", background_transmission),
        q_low_per_nm,
        q_high_per_nm,
    )


def over_subtracted(curve: Curve, *, run: int = 10) -> OverSubtraction:
    """Whether a subtraction took too much: the most negative run of neighbouring bins, in its uncertainties."""
    return _core.over_subtracted(curve, run)


def subtract_scaled(curve: Curve, other: Curve, *, factor: Factor | float = 1.0, name: str) -> Curve:
    """``curve - factor * other``, for a dispersant or matrix reduced to the same unit; ``name`` stands in its cause."""
    return _core.subtract_scaled(curve, other, _factor(factor), name)


def srm3600() -> IntensityStandard:
    """NIST SRM 3600 glassy carbon: 59 certified points, relative standard uncertainty 2.58 %, common to all."""
    return _core.srm3600()


def absolute_scale(
    measured: Curve | Absolute,
    *,
    standard: IntensityStandard | None = None,
    shape_tolerance: float = 0.003,
    q_range_per_nm: Pair | None = None,
) -> AbsoluteScale:
    """k in I_table = k I_measured over the certified range, from the standard's curve S/T/d after its background.

    Parameters
    ----------
    measured : Curve or Absolute
        From :func:`absolute_curve` with the standard's thickness and without ``absolute_scale``.
    standard : IntensityStandard, optional
        Default :func:`srm3600`.
    shape_tolerance : float
        Relative difference of shape that is not warned about, besides the counts.

    Returns
    -------
    AbsoluteScale
        ``factor`` with causes ``"absolute scale: table"`` (never averaged away), ``"absolute scale: counts"`` and those
        of the standard's curve; ``warnings`` where the ratio is not flat.

    Raises
    ------
    InputError
        Fewer than three bins in the certified range; it is never extrapolated.

    Source: A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462.
    """
    curve = measured.curve if isinstance(measured, Absolute) else measured
    return _core.absolute_scale(
        curve, standard=standard, shape_tolerance=shape_tolerance, q_range_per_nm=q_range_per_nm
    )


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


def reduction_steps() -> list[Step]:
    """Every step of a reduction in the order in which it acts, with its equation and source."""
    return _core.reduction_steps()


def plate_self_absorption(transmission: ArrayLike, two_theta_deg: ArrayLike) -> Floats:
    """C = [1 - exp(-w)]/w with w = -ln T (1/cos 2theta - 1), for a plate normal to the beam."""
    return _core.plate_self_absorption(transmission, np.cos(np.radians(two_theta_deg)))


def _mask(mask: ArrayLike | None) -> NDArray[np.bool_] | None:
    return None if mask is None else np.asarray(mask, bool)


def _frames(frames: Frame | Iterable[Frame]) -> list[Frame]:
    return [frames] if isinstance(frames, Frame) else list(frames)


def _reading(value: float | Pair) -> Pair:
    return (float(value[0]), float(value[1])) if isinstance(value, Sequence) else (float(value), 0.0)


def _factor(value: Factor | Transmission | AbsoluteScale | BackgroundFactor | float) -> Factor:
    if isinstance(value, Factor):
        return value
    return value.factor if hasattr(value, "factor") else Factor(float(value))


def _measured(
    item: Averaged | Measured | Curve, name: str, transmission: Transmission | Factor | float | None
) -> Measured:
    if isinstance(item, Measured):
        return item
    if isinstance(item, Averaged):
        name = item.name
    curve = item if isinstance(item, Curve) else item.curve
    return Measured(name, curve, None if transmission is None else _factor(transmission))


def _average_options(*, sectors_deg: Sequence[Pair], **options: object) -> _core.AverageOptions:
    sectors = [(float(np.radians(low)), float(np.radians(high))) for low, high in sectors_deg]
    return _core.AverageOptions(sectors_rad=sectors, **options)
