# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the detector stands, what each pixel sees, and how to find out.

Which one do I use, and when?

* A calibrant was measured (silver behenate, ...): :func:`calibrate_rings` finds distance, beam centre and, if asked, tilt
  from wavelength and pixel size alone, or from the nominal :class:`DetectorGeometry`. Read its ``warnings``. :func:`geometry_components` then gives its uncertainty
  as independent causes, for :mod:`sievelight.reduce`.
* A strip detector: the same call; a frame of one row or one column goes to :func:`calibrate_strip`.
* Samples do not stand where the calibrant stood: :func:`sample_plane_offsets` compares calibrations of several positions,
  :func:`with_sample_offset` moves a geometry.
* A calibrant may have got into a sample's row: :func:`looks_like_calibrant`.
* The beam's counts or size are wanted (transmission, resolution): :func:`beam_spot`.
* Only the direct beam was measured: :func:`find_beam_center` gives the beam point; put it into the geometry with
  ``geometry.replace(beam_center_x_px=..., beam_center_y_px=...)``.
* :func:`pixel_map` turns a geometry into q, azimuth and solid angle of every pixel; :func:`polarisation` corrects for the
  source's.
* :func:`mask_q_range` masks a range of q, :func:`find_crystal_spots` the reflections of single crystals.

Pixel (x = column, y = row) from 0, centres at integers; arrays are indexed [row, column]. x rises with the column, y with
the row, z runs along the beam from the sample. Orientation as NXcanSAS names it: roll about z, pitch about x, yaw about
y, right-handed, applied about the beam point as R_z(roll) R_x(pitch) R_y(yaw).

>>> import sievelight as sl
>>> geometry = sl.DetectorGeometry(
...     wavelength_nm=0.154, distance_mm=600.0, beam_center_x_px=46.3, beam_center_y_px=49.1,
...     pixel_size_x_mm=1.0, pixel_size_y_mm=1.0
... )
>>> round(geometry.q_per_nm(66.3, 49.1), 2), geometry.replace(pitch_deg=0.5).pitch_deg
(1.36, 0.5)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import (
    BeamCenter,
    BeamSpot,
    Calibrant,
    CrystalSpot,
    CrystalSpots,
    DetectorGeometry,
    GeometryComponent,
    PixelMap,
    RingCalibration,
    SamplePlaneOffsets,
)
from sievelight.errors import input_error

__all__ = [
    "BeamCenter",
    "BeamSpot",
    "Calibrant",
    "CrystalSpot",
    "CrystalSpots",
    "DetectorGeometry",
    "GeometryComponent",
    "PixelMap",
    "RingCalibration",
    "SamplePlaneOffsets",
    "beam_spot",
    "calibrant",
    "calibrate_rings",
    "calibrate_strip",
    "find_beam_center",
    "find_crystal_spots",
    "geometry_components",
    "known_calibrants",
    "looks_like_calibrant",
    "mask_q_range",
    "pixel_map",
    "polarisation",
    "sample_plane_offsets",
    "with_sample_offset",
]


def pixel_map(geometry: DetectorGeometry, rows: int, columns: int) -> PixelMap:
    """What every pixel of a detector sees.

    Parameters
    ----------
    geometry : where the detector stands.
    rows, columns : of the detector.

    Returns
    -------
    PixelMap with arrays (rows, columns): ``q_per_nm`` (4π/λ sin θ, 1/nm), ``azimuth_rad`` (from +x towards +y, radians in
    (−π, π]), ``cos_two_theta``, ``cos_incidence`` (between the ray and the detector's normal) and ``solid_angle_sr``
    (p_x p_y cos α / |r|², sr).

    Raises
    ------
    InputError : an empty frame.

    Notes
    -----
    B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> map.q_per_nm.shape, f"{map.q_per_nm.max():.1f} 1/nm in the corner"
    ((96, 96), '4.7 1/nm in the corner')
    """
    return _core.pixel_map(geometry, rows, columns)


def polarisation(map: PixelMap, *, horizontal_fraction: float = 0.5, plane_deg: float = 0.0) -> NDArray[np.float64]:
    """Polarisation factor of every pixel, P = f (1 − sin²2θ cos²χ) + (1 − f)(1 − sin²2θ sin²χ).

    Parameters
    ----------
    map : what every pixel sees, from :func:`pixel_map`.
    horizontal_fraction : share f of the beam polarised along x (columns), or along `plane_deg`, 0 to 1; 0.5 is an
        unpolarised source.
    plane_deg : of the polarisation, degrees from +x towards +y.

    Returns
    -------
    array (rows, columns)

    Raises
    ------
    InputError : a fraction outside [0, 1].

    Notes
    -----
    B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> factor = sl.geometry.polarisation(map, horizontal_fraction=1.0)
    >>> bool(factor[49, 0] < factor[0, 46])  # less along the field than across it
    True
    """
    return _core.polarisation(map, horizontal_fraction, np.radians(plane_deg))


def known_calibrants() -> list[str]:
    """Names of the calibrants known by heart; their spacings and sources: :func:`calibrant`.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.geometry.known_calibrants()
    ['silver behenate', 'lanthanum hexaboride', 'silicon', 'corundum']
    """
    return _core.known_calibrants()


def calibrant(name: str, *, d_nm: ArrayLike | None = None, relative_u: float = 0.0) -> Calibrant:
    """A known calibrant by its name, or one of your own by its spacings.

    Parameters
    ----------
    name : "silver behenate", "lanthanum hexaboride", "silicon", "corundum"; case, blanks and hyphens do not matter, and
        short names ("AgBeh", "LaB6") will do. Any name when `d_nm` is given.
    d_nm : spacings d in nm, falling.
    relative_u : standard uncertainty of `d_nm`, relative and common to all (only with `d_nm`).

    Returns
    -------
    Calibrant with ``d_nm``, ``reflections``, ``relative_u`` and ``source``.

    Raises
    ------
    InputError : lists the known names, or says which spacing is impossible.

    Examples
    --------
    >>> import sievelight as sl
    >>> float(sl.calibrant("AgBeh").d_nm[0].round(4))
    5.838
    >>> sl.calibrant("own", d_nm=[5.0, 2.5], relative_u=1e-4).relative_u
    0.0001
    """
    if d_nm is None:
        return _core.calibrant(name)
    return _core.calibrant(name, np.asarray(d_nm, dtype=float), relative_u)


def calibrate_rings(
    frame: Any,
    *,
    start: DetectorGeometry | None = None,
    wavelength_nm: float | None = None,
    pixel_size_mm: float | tuple[float, float] | None = None,
    distance_mm: float | None = None,
    beam_center_px: tuple[float, float] | None = None,
    calibrant: str | Calibrant = "silver behenate",
    d_nm: ArrayLike | None = None,
    d_relative_u: float = 0.0,
    masked: ArrayLike | None = None,
    refine_tilt: bool = False,
    max_order: int = 0,
    search_relative: float = 0.08,
    search_px: float = 12.0,
    beam_fwhm_mm: float = 0.0,
) -> RingCalibration:
    """Distance, beam centre and tilt from the powder rings of a calibrant.

    Parameters
    ----------
    frame : counts (rows, columns), or a Frame, whose mask is then used besides. One row or one column of pixels is a strip:
        see :func:`calibrate_strip`; of a start its distance and beam point are then known within 20 % and 25 px.
    start : nominal geometry; up to 5 % off in distance and 10 px off in centre at once is inside the design, and the beam
        point may lie outside the frame. Wavelength, pixel size and roll are kept. Without it the frame itself says where
        the beam point (inside the frame or beyond it) and the distance are, from:
    wavelength_nm, pixel_size_mm : needed without a start; the pixel's side, or its width and height.
    distance_mm, beam_center_px : without a start, where known: a distance within 20 %, a beam point within 25 px. One ring
        alone in view needs the distance.
    calibrant : name (see :func:`calibrant`) or a Calibrant.
    d_nm : spacings in nm, falling, instead of a calibrant; `d_relative_u` is their relative standard uncertainty.
    masked : (rows, columns), True = never look at. Hot pixels, dead areas and gaps without counts are found besides.
    refine_tilt : refine pitch and yaw too; takes two rings.
    max_order : use the rings up to this one; 0 = all in view.
    search_relative, search_px : how far the search goes from the start, in distance (relative) and in column and row.
    beam_fwhm_mm : size of the beam at the detector; its blur draws small rings inwards by σ²/(2R), which is undone.

    Returns
    -------
    RingCalibration with ``geometry``, ``parameters`` and their ``covariance`` (from the scatter of the ring points),
    ``u(name)``, ``residual_px``, the ring points (``x_px``, ``y_px``, ``order``, ``residuals_px``), ``rings`` and
    ``arc_deg``, and ``warnings``. The uncertainty of the spacing, ``calibrant_relative_u``, is not in the covariance: it
    is a cause of its own, common to all that uses this calibration.

    Raises
    ------
    InputError : an impossible start, list of spacings, mask or option; neither a start nor wavelength and pixel size.
    DataError : no ring of the calibrant is in view or found; says where it was looked for and what to check. Without a
        start also: the rings or humps are not this calibrant's, or two distances explain them equally well.
    NumericalError : the fit does not settle.

    Notes
    -----
    A coarse search for the distance and centre at which the rings as a family stand out, then rounds of peak fits in
    narrow sectors (Poisson quasi-likelihood on a sloping background) and robust least squares along the radius.
    Without a start the slopes of the frame vote for the centre (they point along the radius), the sharpest radial profile
    settles it, and every pairing of a peak with a ring is a hypothesis for the distance, judged by its likelihood.
    Source of the default spacing: T. C. Huang et al., J. Appl. Cryst. 26 (1993) 180.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.calibrate_rings(sl.examples.rings(), wavelength_nm=0.154, pixel_size_mm=1.0)
    >>> f"{found.geometry.distance_mm:.1f} mm, rings {found.rings.tolist()}", found.warnings
    ('600.0 mm, rings [1, 2, 3, 4]', [])
    """
    if d_nm is not None:
        material = _core.calibrant("spacings of the user's own", np.asarray(d_nm, dtype=float), d_relative_u)
    else:
        material = calibrant if isinstance(calibrant, Calibrant) else _core.calibrant(calibrant)
    options: dict[str, Any] = {
        "calibrant": material,
        "refine_tilt": refine_tilt,
        "max_order": max_order,
        "search_relative": search_relative,
        "search_px": search_px,
        "beam_fwhm_mm": beam_fwhm_mm,
    }
    counts, unusable = _counts_and_mask(frame, masked)
    if start is not None:
        given = {
            "wavelength_nm": wavelength_nm,
            "pixel_size_mm": pixel_size_mm,
            "distance_mm": distance_mm,
            "beam_center_px": beam_center_px,
        }
        if doubled := [name for name, value in given.items() if value is not None]:
            raise input_error(
                f"calibrate_rings: a start and {', '.join(doubled)} were given.",
                "Put them into the start (start.replace(...)), or leave the start out.",
            )
        if 1 not in counts.shape:
            return _core.calibrate_rings(counts, unusable, start=start, **options)
        wavelength_nm, pixel_size_mm = start.wavelength_nm, start.pixel_size_mm
        distance_mm, beam_center_px = start.distance_mm, start.beam_center_px
    if wavelength_nm is None or pixel_size_mm is None:
        raise input_error(
            "calibrate_rings: neither a start nor wavelength_nm and pixel_size_mm were given.",
            "Wavelength and pixel size must be known; distance and beam centre are found.",
        )
    known: dict[str, Any] = {
        "wavelength_nm": wavelength_nm,
        "pixel_size_mm": _pair(pixel_size_mm),
        "distance_mm": distance_mm,
        "beam_center_px": beam_center_px,
    }
    if 1 in counts.shape:
        return _core.calibrate_strip(counts, unusable, calibrant=material, max_order=max_order, **known)
    return _core.calibrate_rings_from_nothing(counts, unusable, **known, **options)


def calibrate_strip(
    frame: Any,
    *,
    wavelength_nm: float,
    pixel_size_mm: float | tuple[float, float],
    distance_mm: float | None = None,
    beam_center_px: tuple[float, float] | None = None,
    calibrant: str | Calibrant = "silver behenate",
    masked: ArrayLike | None = None,
    max_order: int = 0,
) -> RingCalibration:
    """Distance and beam point of a strip detector from the peaks of a calibrant, on one side of the beam or on both.

    Parameters
    ----------
    frame : counts (1, n) or (n, 1), or a Frame.  wavelength_nm, pixel_size_mm : must be known.
    distance_mm, beam_center_px : where known, within 20 % and 25 px; needed where the first orders are not in view.
    Others as in :func:`calibrate_rings`.

    Returns
    -------
    RingCalibration with ``parameters`` distance_mm and beam_center_x_px (beam_center_y_px for a column of pixels). The
    beam is taken to cross the middle of the strip's height. A line-shaped beam much longer than the strip is high draws
    the peaks inwards: calibrate with a short line.

    Raises
    ------
    InputError : a frame that is no strip.
    DataError : no sharp peaks, not the calibrant's, or two geometries that explain them equally well, both named.

    Examples
    --------
    >>> import sievelight as sl
    >>> row = sl.examples.rings().counts[49:50, :]  # through the beam
    >>> found = sl.geometry.calibrate_strip(row, wavelength_nm=0.154, pixel_size_mm=1.0, distance_mm=610.0)
    >>> f"{found.geometry.distance_mm:.0f} mm, beam at column {found.geometry.beam_center_x_px:.1f}"
    '600 mm, beam at column 46.3'
    """
    material = calibrant if isinstance(calibrant, Calibrant) else _core.calibrant(calibrant)
    return _core.calibrate_strip(
        *_counts_and_mask(frame, masked),
        calibrant=material,
        wavelength_nm=wavelength_nm,
        pixel_size_mm=_pair(pixel_size_mm),
        distance_mm=distance_mm,
        beam_center_px=beam_center_px,
        max_order=max_order,
    )


def looks_like_calibrant(frame: Any, geometry: DetectorGeometry | PixelMap, *, masked: ArrayLike | None = None) -> str:
    """Name of the known calibrant whose sharp rings a frame shows, or "" when none.

    Asked for are sharp peaks on the calibrant's places and on no others among them; smooth samples and hexagonally ordered
    pores raise no alarm (measured: none in 70).

    Parameters
    ----------
    frame : counts (rows, columns), or a Frame.
    geometry : nominal geometry (3 % in distance will do), or its PixelMap.
    masked : (rows, columns), True = never look at.

    Returns
    -------
    str

    Raises
    ------
    InputError : map and frame differ in shape.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.looks_like_calibrant(sl.examples.rings(), sl.examples.geometry(), masked=sl.examples.mask())
    'silver behenate'
    >>> sl.looks_like_calibrant(sl.examples.frame(), sl.examples.geometry(), masked=sl.examples.mask())
    ''
    """
    counts, unusable = _counts_and_mask(frame, masked)
    seen = geometry if isinstance(geometry, PixelMap) else _core.pixel_map(geometry, *counts.shape)
    return _core.looks_like_calibrant(counts, seen, unusable)


def with_sample_offset(geometry: DetectorGeometry, offset_mm: float) -> DetectorGeometry:
    """The geometry of a sample that stands nearer to the detector. The beam's point on the detector stays.

    Parameters
    ----------
    geometry : of the calibrant's place.
    offset_mm : towards the detector; negative: further away.

    Returns
    -------
    DetectorGeometry

    Raises
    ------
    InputError : the offset reaches the detector.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.geometry.with_sample_offset(sl.examples.geometry(), 2.0).distance_mm
    598.0
    """
    return _core.with_sample_offset(geometry, offset_mm)


def sample_plane_offsets(positions: Sequence[RingCalibration], *, reference: int = 0) -> SamplePlaneOffsets:
    """How far each calibrated position of a changer stands nearer to the detector than the reference position.

    Parameters
    ----------
    positions : (n) calibrations of one calibrant, one a position.
    reference : number of the reference position, from 0.

    Returns
    -------
    SamplePlaneOffsets with ``offset_mm`` (n), ``covariance`` (n, n) in mm² and ``u_mm(position)``. The reference's own
    scatter is common to all; of the spacing's uncertainty only the offset's share is left.

    Raises
    ------
    InputError : the calibrations do not belong together.

    Examples
    --------
    >>> import sievelight as sl
    >>> start = sl.examples.geometry()
    >>> places = [sl.calibrate_rings(sl.examples.rings(seed=k), start=start) for k in (3, 4)]  # one place, twice
    >>> offsets = sl.geometry.sample_plane_offsets(places)
    >>> offsets.offset_mm.shape, bool(abs(offsets.offset_mm[1]) < 0.1)
    ((2,), True)
    """
    return _core.sample_plane_offsets(list(positions), reference)


def beam_spot(
    frame: Any,
    *,
    radius_px: float = 0.0,
    gap_px: float = 2.0,
    annulus_px: float = 4.0,
    near_px: tuple[float, float] | None = None,
    search_px: float = 20.0,
    saturation_value: float | None = None,
    masked: ArrayLike | None = None,
) -> BeamSpot:
    """The direct beam's counts inside a circle, its centre and its size.

    For an exposure of the attenuated beam or through a semi-transparent beamstop; expose the direct beam only through
    the instrument's interlocked procedure, attenuator checked first.

    Parameters
    ----------
    frame : counts (rows, columns), or a Frame.
    radius_px : of the circle summed; 0 takes four times the spot's standard deviation. Name it for a transmission, the same
        with and without the sample; behind a beamstop circle and annulus must stay inside the shadow.
    gap_px, annulus_px : from the circle to the annulus that gives the background, and its width.
    near_px, search_px : as in :func:`find_beam_center`.  saturation_value : counts at or above it are no counts.

    Returns
    -------
    BeamSpot with ``counts`` and ``u_counts`` above the ``background`` (counts per pixel), ``x_px``, ``y_px`` with
    ``covariance_px2`` (2, 2), ``fwhm_x_px``, ``fwhm_y_px`` and their ``u_``: of the Gaussian of equal variance, the pixel's
    own taken off; times the pixel's size they are a study's beam_fwhm_mm. ``warnings`` say what is cut.

    Raises
    ------
    InputError : impossible options.
    DataError : a saturated or masked pixel lies in the core, or no spot or no background is found.

    Examples
    --------
    >>> import sievelight as sl
    >>> spot = sl.beam_spot(sl.examples.direct_beam())
    >>> f"{spot.x_px:.1f}, {spot.y_px:.1f} px, {spot.fwhm_x_px:.1f} px wide"
    '46.3, 49.1 px, 2.7 px wide'
    """
    return _core.beam_spot(
        *_counts_and_mask(frame, masked),
        radius_px=radius_px,
        gap_px=gap_px,
        annulus_px=annulus_px,
        near_px=near_px,
        search_px=search_px,
        saturation_value=0.0 if saturation_value is None else saturation_value,
    )


def geometry_components(
    calibration: RingCalibration,
    *,
    calibrant_relative_u: float | None = None,
    offset_mm: float = 0.0,
    u_offset_mm: float = 0.0,
    position: str = "",
) -> list[GeometryComponent]:
    """The uncertainty of a calibration as independent causes, the largest first.

    Distance, centre and tilt were fitted together and err together; the principal components of their covariance do not.

    Parameters
    ----------
    calibration : from :func:`calibrate_rings`.
    calibrant_relative_u : of the spacing, relative, instead of the calibrant's own.
    offset_mm, u_offset_mm, position : for a sample that stands nearer to the detector than the calibrant did: all causes
        keep their ids, and the offset's own u becomes the cause "sample plane <position>".

    Returns
    -------
    list of GeometryComponent, each with an ``id`` ("geometry 1", ..., "calibrant spacing") and ``shifted_plus``, the geometry
    moved by one standard deviation.

    Raises
    ------
    InputError : an offset and calibrant_relative_u were given.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.calibrate_rings(sl.examples.rings(), start=sl.examples.geometry())
    >>> [component.id for component in sl.geometry.geometry_components(found)]
    ['geometry 1', 'geometry 2', 'geometry 3', 'calibrant spacing']
    """
    if offset_mm != 0.0 or u_offset_mm != 0.0:
        if calibrant_relative_u is not None:
            raise input_error(
                "geometry_components: an offset and calibrant_relative_u were given.",
                "Give one of them; with an offset the calibrant's own uncertainty is used.",
            )
        return _core.geometry_components_at(calibration, offset_mm, u_offset_mm, position)
    if calibrant_relative_u is None:
        return _core.geometry_components(calibration)
    return _core.geometry_components(calibration, calibrant_relative_u)


def find_beam_center(
    frame: Any,
    *,
    masked: ArrayLike | None = None,
    near_px: tuple[float, float] | None = None,
    search_px: float = 20.0,
) -> BeamCenter:
    """The beam point from the direct beam's own spot.

    For an exposure of the attenuated beam or through a semi-transparent beamstop; expose the direct beam only through
    the instrument's interlocked procedure, attenuator checked first.

    Parameters
    ----------
    frame : counts (rows, columns), or a Frame, whose mask is then used besides.
    masked : (rows, columns), True = never look at.
    near_px : (column, row) to look around, up to `search_px` away; by default the brightest spot of the frame.

    Returns
    -------
    BeamCenter with ``x_px``, ``y_px`` (column, row), ``u_x_px``, ``u_y_px`` (standard uncertainties from the counts), the
    widths ``sigma_x_px``, ``sigma_y_px``, the spot's ``counts`` and ``u_counts``, ``background`` and ``warnings``.

    Raises
    ------
    InputError : a place outside the frame.
    DataError : no spot stands out.
    NumericalError : the centroid does not settle.

    Examples
    --------
    >>> import sievelight as sl
    >>> center = sl.find_beam_center(sl.examples.direct_beam())
    >>> f"{center.x_px:.1f}, {center.y_px:.1f} px"
    '46.3, 49.1 px'
    """
    return _core.find_beam_center(*_counts_and_mask(frame, masked), near_px=near_px, search_px=search_px)


def _pair(size: float | tuple[float, float]) -> tuple[float, float]:
    """Width and height of a pixel; one number is a square's side."""
    if isinstance(size, (int, float)):
        return float(size), float(size)
    width, height = size
    return float(width), float(height)


def _counts_and_mask(frame: Any, masked: ArrayLike | None) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    counts = np.asarray(getattr(frame, "counts", frame), dtype=float)
    parts = [np.asarray(m, dtype=bool) for m in (getattr(frame, "masked", None), masked) if m is not None]
    # Masks of another shape go on as they are: the core refuses them with both shapes named.
    if len(parts) == 2 and parts[0].shape == parts[1].shape:
        return counts, parts[0] | parts[1]
    return counts, parts[-1] if parts else np.zeros((0, 0), dtype=bool)


def mask_q_range(
    q_per_nm: ArrayLike, *, low_per_nm: float = 0.0, high_per_nm: float = float("inf"), outside: bool = False
) -> NDArray[np.bool_]:
    """Mask pixels with low <= q <= high.

    Parameters
    ----------
    q_per_nm : (rows, columns), 1/nm, the map that :func:`pixel_map` gives.
    low_per_nm, high_per_nm : the range, 1/nm.
    outside : mask everything but these.

    Returns
    -------
    array of bool (rows, columns), True = not to be used

    Raises
    ------
    InputError : no pixel lies in the range, or none is left.

    Examples
    --------
    >>> import sievelight as sl
    >>> q = sl.pixel_map(sl.examples.geometry(), 96, 96).q_per_nm
    >>> ring = sl.mask_q_range(q, low_per_nm=1.0, high_per_nm=1.2)
    >>> bool(q[ring].min() >= 1.0), bool(q[ring].max() <= 1.2)
    (True, True)
    """
    return _core.mask_q_range(
        np.asarray(q_per_nm, dtype=float), low_per_nm=low_per_nm, high_per_nm=high_per_nm, outside=outside
    )


def find_crystal_spots(
    counts: ArrayLike,
    map: PixelMap,
    *,
    masked: NDArray[np.bool_] | None = None,
    false_alarm: float = 0.01,
    contrast: float = 1.5,
    spot_px: float = 8.0,
    margin_px: int = 1,
) -> CrystalSpots:
    """Find reflections of single crystals: compact spots far above the rest of their ring.

    Parameters
    ----------
    counts : (rows, columns) counts.
    map : what every pixel sees, from :func:`pixel_map`.
    masked : pixels that take no part; mask the beamstop first.
    false_alarm : chance that a frame without spots shows one.
    contrast : least ratio of a spot to its ring beside it.
    spot_px : widest spot, across, in pixels.
    margin_px : pixels added around each spot.

    Returns
    -------
    CrystalSpots with ``mask`` (rows, columns) and ``spots``, the strongest first, each with ``x_px``, ``y_px``,
    ``q_per_nm``, ``excess_counts``, ``ratio`` and ``pixels``.

    Raises
    ------
    InputError : unlike shapes or impossible options.

    Notes
    -----
    Smooth texture along a ring, streaks and oriented patterns are no spots. On 180 simulated frames without spots, from
    nearly no counts to 10⁶ a pixel, flat, steep and with sharp rings, none showed one at the default chance of 1 %. A hot
    pixel is a spot too: look for it first with ``find_defects``. Source: derivation.

    Examples
    --------
    >>> import sievelight as sl
    >>> counts = sl.examples.frame().counts.copy()
    >>> counts[70:73, 30:33] += 4000  # a reflection
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> found = sl.find_crystal_spots(counts, map, masked=sl.examples.mask())
    >>> [(round(spot.x_px), round(spot.y_px)) for spot in found.spots]
    [(31, 71)]
    """
    return _core.find_crystal_spots(
        np.asarray(counts, dtype=float),
        np.zeros((0, 0), dtype=bool) if masked is None else masked,
        map,
        false_alarm=false_alarm,
        contrast=contrast,
        spot_px=spot_px,
        margin_px=margin_px,
    )
