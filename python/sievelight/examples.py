# SPDX-License-Identifier: GPL-3.0-or-later
"""Small data to try things out with. **All of them are invented**: nothing here was measured, and no number means a sample.

Which one do I use? `curve` for everything that begins with I(q); `frame`, with `geometry` and `mask`, for what begins with
counts, `background` for the cell's frame, `rings` for a calibrant's, `direct_beam` for a transmission; `study` for a folder
that `sievelight.run_study` runs in a second or two. The docstrings of this package use them. Every function gives the same
numbers at every call; another `seed` gives other noise.

The sample is spheres with a log-normal volume-weighted distribution of diameters, 1 % of the volume, silica against air.
The detector has 96 x 96 pixels of 1 mm, 0.6 m behind the sample.

>>> import sievelight as sl
>>> size = sl.invert(sl.examples.curve(median_nm=8.0), method="evidence")
>>> round(size.x50_nm.value, 1)
8.0
"""

from __future__ import annotations

from os import PathLike
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sievelight import _core
from sievelight._core import Calibrant, Curve, DetectorGeometry, Frame, PixelMap
from sievelight.files import write_array, write_text
from sievelight.geometry import pixel_map, polarisation

Array = NDArray[np.float64]

__all__ = ["background", "curve", "direct_beam", "frame", "geometry", "mask", "rings", "study"]

SHAPE = (96, 96)  # rows, columns
CONTRAST_PER_CM2 = 1.864e11  # silica of 2.2 g/cm3 against air
VOLUME_FRACTION = 0.01
PHOTONS_PER_S = 2e6
THICKNESS_MM = 1.0
TRANSMISSION = 0.4
FLAT_PER_CM = 0.01  # of the sample itself
CELL_PER_CM = 0.5  # what cell and air scatter, flat, in the sample's unit
SPOT_PX = 1.2  # standard deviation of the direct beam
RING_PX = 0.7  # standard deviation of a powder ring


def _spheres(bins: Curve, median_nm: float, sigma: float, flat_level: float) -> Array:
    """Intensity (n) in 1/cm of the invented spheres on the bins of a curve."""
    sample = _core.NamedSample(
        family="log-normal",
        parameters=[median_nm, sigma],
        volume=VOLUME_FRACTION * (1 - VOLUME_FRACTION),
        contrast_per_cm2=CONTRAST_PER_CM2,
        flat_level=flat_level,
    )
    return _core.expected_intensity(bins, sample, kernel=_core.KernelOptions())


def _bins(low_per_nm: float, high_per_nm: float, bins: int) -> Curve:
    edges = _core.log_edges(low_per_nm, high_per_nm, bins)
    low, high = edges[:-1], edges[1:]
    ones = np.ones(bins)
    return Curve(
        q_per_nm=np.sqrt(low * high), intensity=ones, private_u=ones, q_low_per_nm=low, q_high_per_nm=high, unit="1/cm"
    )


def curve(
    *, median_nm: float = 8.0, sigma: float = 0.2, relative_u: float = 0.01, bins: int = 90, seed: int = 1
) -> Curve:
    """I(q) of the invented spheres with normal noise, 0.1 to 5 1/nm, in 1/cm.

    Parameters
    ----------
    median_nm, sigma : of the log-normal distribution: median diameter (nm) and standard deviation of ln D.
    relative_u : standard uncertainty of each point, relative to its intensity without noise.
    bins : number n of points, even in ln q.
    seed : of the noise.

    Returns
    -------
    Curve
        n points with bin edges and `private_u`, and no other cause of error; a flat level of 0.01 1/cm is in it.

    Raises
    ------
    InputError
        A size or a number of bins that is not above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> len(curve), curve.unit
    (90, '1/cm')
    """
    at = _bins(0.1, 5.0, bins)
    truth = _spheres(at, median_nm, sigma, flat_level=FLAT_PER_CM)
    u = relative_u * truth
    noise = u * np.random.default_rng(seed).standard_normal(bins)
    return Curve(
        q_per_nm=at.q_per_nm,
        intensity=truth + noise,
        private_u=u,
        q_low_per_nm=at.q_low_per_nm,
        q_high_per_nm=at.q_high_per_nm,
        unit="1/cm",
    )


def geometry() -> DetectorGeometry:
    """Where the invented detector stands: 0.6 m behind the sample, wavelength 0.154 nm, beam point near the middle.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.examples.geometry().distance_mm
    600.0
    """
    return DetectorGeometry(
        wavelength_nm=0.154,
        distance_mm=600.0,
        beam_center_x_px=46.3,
        beam_center_y_px=49.1,
        pixel_size_x_mm=1.0,
        pixel_size_y_mm=1.0,
    )


def mask() -> NDArray[np.bool_]:
    """(96, 96) mask of the invented detector: a round beamstop of 2.5 pixels.

    Examples
    --------
    >>> import sievelight as sl
    >>> mask = sl.examples.mask()
    >>> mask.shape, int(mask.sum())
    ((96, 96), 20)
    """
    return _core.mask_circle(*SHAPE, center_px=geometry().beam_center_px, radius_px=2.5)


def _map() -> PixelMap:
    return pixel_map(geometry(), *SHAPE)


def _expected(per_cm: Array, transmission: float) -> Array:
    """Counts a second and pixel from 1 mm of what scatters `per_cm` (rows, columns); nothing behind the beamstop."""
    seen = _map()
    weight = seen.solid_angle_sr * polarisation(seen)
    return np.where(mask(), 0.0, PHOTONS_PER_S * transmission * THICKNESS_MM / 10 * per_cm * weight)


def _sample(median_nm: float, sigma: float) -> Array:
    """Counts a second and pixel of the spheres in their cell."""
    q = _map().q_per_nm
    fine = _bins(0.5 * float(q.min()) + 1e-3, 1.01 * float(q.max()), 150)
    per_cm = np.interp(q, fine.q_per_nm, _spheres(fine, median_nm, sigma, flat_level=FLAT_PER_CM))
    return _expected(per_cm + CELL_PER_CM, TRANSMISSION)


def _cell() -> Array:
    """Counts a second and pixel of the empty cell."""
    return _expected(np.full(SHAPE, CELL_PER_CM), 1.0)


def _drawn(per_s: Array, exposure_s: float, seed: int) -> Frame:
    """Poisson counts of an exposure."""
    counts = np.random.default_rng(seed).poisson(per_s * exposure_s)
    return Frame(counts.astype(float), exposure_s=exposure_s)


def frame(*, median_nm: float = 8.0, sigma: float = 0.2, exposure_s: float = 100.0, seed: int = 1) -> Frame:
    """A frame (96, 96) of the invented spheres in their cell, 1 mm thick, transmission 0.4.

    Parameters
    ----------
    median_nm, sigma : as in :func:`curve`.
    exposure_s : seconds.
    seed : of the counting noise, which is Poisson's.

    Returns
    -------
    Frame
        Counts; the pixels behind the beamstop count nothing and are not masked: see :func:`mask`.

    Raises
    ------
    InputError
        A size that is not above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> frame = sl.examples.frame(exposure_s=20.0)
    >>> frame.counts.shape, frame.exposure_s
    ((96, 96), 20.0)
    """
    return _drawn(_sample(median_nm, sigma), exposure_s, seed)


def background(*, exposure_s: float = 100.0, seed: int = 2) -> Frame:
    """A frame (96, 96) of the invented empty cell, transmission 1; parameters as of :func:`frame`.

    Examples
    --------
    >>> import sievelight as sl
    >>> bool(sl.examples.background().counts.sum() < sl.examples.frame().counts.sum())
    True
    """
    return _drawn(_cell(), exposure_s, seed)


def rings(calibrant: Calibrant | None = None, *, exposure_s: float = 100.0, seed: int = 3) -> Frame:
    """A frame (96, 96) with the powder rings of a calibrant, silver behenate if none is given.

    Parameters
    ----------
    calibrant : whose spacings; the rings are equally strong.
    exposure_s, seed : as in :func:`frame`.

    Examples
    --------
    >>> import sievelight as sl
    >>> frame = sl.examples.rings()
    >>> sl.looks_like_calibrant(frame, sl.examples.geometry(), masked=sl.examples.mask())
    'silver behenate'
    """
    q = _map().q_per_nm
    width_per_nm = RING_PX * float(np.abs(np.gradient(q, axis=1)).max())
    known = _core.calibrant("silver behenate") if calibrant is None else calibrant
    at = 2 * np.pi / np.asarray(known.d_nm)
    peaks = sum(200.0 * np.exp(-0.5 * ((q - k) / width_per_nm) ** 2) for k in at if k < q.max())
    return _drawn(_expected(CELL_PER_CM + np.asarray(peaks), TRANSMISSION), exposure_s, seed)


def direct_beam(*, transmission: float = 1.0, seed: int = 4) -> Frame:
    """A second of the attenuated direct beam, without a beamstop: a Gaussian spot of 200 000 counts times `transmission`.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.examples.direct_beam(transmission=0.5).counts.sum().round(-4)
    np.float64(110000.0)
    """
    g = geometry()
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    r2 = (x - g.beam_center_x_px) ** 2 + (y - g.beam_center_y_px) ** 2
    spot = 2e5 * transmission * np.exp(-0.5 * r2 / SPOT_PX**2) / (2 * np.pi * SPOT_PX**2)
    counts = np.random.default_rng(seed).poisson(spot + 1.0)
    return Frame(counts.astype(float), exposure_s=1.0)


def study(folder: str | PathLike[str]) -> Path:
    """Write a small study of two batches with two samples each, and say where its `study.toml` is.

    Parameters
    ----------
    folder : where to; made if it is not there.

    Returns
    -------
    Path
        Of the study file. Beside it stand the table of measurements and five files of frames (NPY), a stack of four
        exposures each: the samples of "kiln 1" (medians 8.0 and 8.1 nm) and "kiln 2" (9.6 and 9.7 nm), and the empty cell.
        It asks for the quick look, ``method = "evidence"``; its [plan] names the pilot "1a".

    Raises
    ------
    DataError
        The folder cannot be written to.

    Examples
    --------
    >>> import sievelight as sl
    >>> path = sl.examples.study("invented")
    >>> sorted(file.name for file in path.parent.iterdir())
    ['1a.npy', '1b.npy', '2a.npy', '2b.npy', 'cell.npy', 'measurements.csv', 'study.toml']
    """
    to = Path(folder)
    g = geometry()
    samples = {"1a": 8.0, "1b": 8.1, "2a": 9.6, "2b": 9.7}
    for number, (name, median_nm) in enumerate(samples.items()):
        _save(to / f"{name}.npy", _sample(median_nm, 0.2), seed=number)
    _save(to / "cell.npy", _cell(), seed=len(samples))
    write_text(to / "measurements.csv", _table(samples))
    x, y = g.beam_center_px
    write_text(
        to / "study.toml",
        f"""# Invented by sievelight.examples.study; no number in it was measured.
[study]
title = "Invented spheres from two kilns"
measurements = "measurements.csv"

[instrument]
wavelength_nm = {g.wavelength_nm}
distance_mm = {g.distance_mm}
beam_center_px = [{x}, {y}]
pixel_size_mm = [{g.pixel_size_x_mm}, {g.pixel_size_y_mm}]

[[mask.circle]]
center_px = [{x}, {y}]
radius_px = 2.5

[reduce]
bins = 60
spacing = "linear"

[distribution]
method = "evidence"
what_if = "none"

[compare]
margin_percent = 5.0
reference = "kiln 1"

[plan]
pilot = "1a"
target_percent = 0.5
repeats = 1
""",
    )
    return to / "study.toml"


def _table(samples: dict[str, float]) -> str:
    head = "name,role,batch,file,background,exposure_s,transmission,thickness_mm"
    rows = [f"{name},sample,kiln {name[0]},{name}.npy,cell,25,{TRANSMISSION},{THICKNESS_MM}" for name in samples]
    return "\n".join([head, *rows, "cell,background,,cell.npy,,25,1,"]) + "\n"


def _save(path: Path, per_s: Array, seed: int) -> None:
    """A stack of four exposures of 25 s."""
    frames = [_drawn(per_s, 25.0, 100 + 4 * seed + k) for k in range(4)]
    write_array(path, np.array([f.counts for f in frames], dtype=np.int32))
