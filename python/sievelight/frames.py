# SPDX-License-Identifier: GPL-3.0-or-later
"""Detector frames: opening files, adding exposures, masks.

Which one do I use, and when?

* :func:`open_frames` looks at a file and shows what it understood: where the frames stand, the geometry, exposure times,
  monitors, and in ``metadata.notes`` every assumption. Then ``file.read(i)`` gives one exposure and
  ``file.read_sum([...])`` the sum of some (all when left out), with the times and monitors summed.
* :func:`sum_frames` adds frames that come from several files.
* :func:`read_mask` reads a mask that was drawn; :func:`mask_rectangle`, :func:`mask_circle`, :func:`mask_polygon` and
  :func:`mask_values` draw one; :func:`unite` joins masks.
* :func:`find_defects` finds hot and dead pixels, :func:`find_beamstop_shadow` the beamstop and its arm. Single-crystal
  spots need the geometry: :func:`sievelight.geometry.find_crystal_spots`.

A format that the package does not know is read by a reader of your own, see :mod:`sievelight.frame_formats`.

Frames are counts: never averaged, never scaled. Pixels are indexed [row, column] from 0, ``True`` in a mask means that
the pixel must not be used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from os import PathLike, fspath
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core, frame_formats
from sievelight._core import BeamstopShadow, Frame, FrameFile, FrameMetadata
from sievelight.errors import DataError, data_error

__all__ = [
    "BeamstopShadow",
    "Frame",
    "FrameFile",
    "FrameMetadata",
    "find_beamstop_shadow",
    "find_defects",
    "mask_circle",
    "mask_polygon",
    "mask_rectangle",
    "mask_values",
    "open_frames",
    "read_mask",
    "sum_frames",
    "unite",
]


def open_frames(
    path: str | PathLike[str],
    *,
    dataset: str | None = None,
    saturation_value: float | None = None,
    exposure_s: float | None = None,
) -> FrameFile:
    """Open a file of detector frames, by its content.

    Parameters
    ----------
    path : path of the file. What it holds decides, not its suffix:

        * HDF5/NeXus: a frame (rows, columns) or a stack (exposures, rows, columns) of integers or floating-point
          numbers, plain or compressed with gzip or bitshuffle-LZ4;
        * TIFF: grey pages of 8 to 64 bits, every page one exposure, any compression libtiff knows;
        * CBF/imgCIF: any compression of the CBF library, with the dictionary's items or the small '#' header;
        * NPY: an array of plain numbers in two or three dimensions, never of objects;
        * text: a strip detector's one column of counts, or two: position or channel, and counts.

        * what a reader of your own claims: such are asked first, unless ``dataset`` is given. See
          :func:`sievelight.register_frame_format`.

        A strip is a frame of one row, a single counter a frame of one pixel. In HDF5, one dimension is a strip, and two
        are a stack of strips where the NeXus attribute ``interpretation`` says ``spectrum``.
    dataset : where the frames stand in an HDF5 file. By default the data of the NXdetector, else the signal of an
        NXdata group, else the only array in two or three dimensions.
    saturation_value : counts at or above it in a single exposure are masked; overrides the file's.
    exposure_s : seconds of each exposure; overrides the file's.

    Returns
    -------
    FrameFile with ``format``, ``count``, ``rows``, ``columns``, ``metadata``, ``exposures_s``, ``monitors``, and the methods
    ``read(index)`` and ``read_sum(indices)``, both giving a :class:`Frame`. No file stays open.

    Raises
    ------
    DataError : the file is missing, truncated, compressed with an unknown filter, or holds no detector frame; or a reader
        of your own fails, and the message names it.

    Notes
    -----
    Field names as in the NeXus classes NXdetector, NXmonitor and NXmonochromator and the definition NXsas, and in the
    imgCIF dictionary. Whatever was assumed stands in ``metadata.notes``.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> np.save("tile.npy", np.stack([sl.examples.frame(seed=k).counts for k in (1, 2)]))
    >>> file = sl.open_frames("tile.npy", exposure_s=100.0)
    >>> file.format, file.count, file.rows, file.columns
    ('NPY', 2, 96, 96)
    >>> file.read_sum().exposure_s
    200.0
    """
    path = fspath(path)
    options = {"saturation_value": saturation_value, "exposure_s": exposure_s}
    added, failed = (None, []) if dataset else frame_formats.find_format(path)
    if added is not None:
        file = frame_formats.open_added(path, added, **options)
    else:
        try:
            file = _core.open_frames(path, dataset=dataset, **options)
        except DataError as error:
            if "of a known kind" not in str(error) or not (more := frame_formats.known_formats_note(failed)):
                raise
            raise data_error(error.problem, error.mend + more) from error
    for words in failed:
        file.add_note(words)
    return file


def sum_frames(frames: Sequence[Frame]) -> Frame:
    """Add frames of one measurement: counts, exposure times and monitors add, a pixel masked in any is masked.

    Parameters
    ----------
    frames : frames of one shape (rows, columns).

    Returns
    -------
    Frame

    Raises
    ------
    InputError
        There is none, or their shapes differ.

    Examples
    --------
    >>> import sievelight as sl
    >>> total = sl.sum_frames([sl.examples.frame(seed=1), sl.examples.frame(seed=2)])
    >>> total.exposure_s, total.exposures
    (200.0, 2)
    """
    return _core.sum_frames(list(frames))


def read_mask(path: str | PathLike[str], *, rows: int, columns: int) -> NDArray[np.bool_]:
    """Read a mask: non-zero = masked, whatever the file's suffix.

    HDF5: NeXus ``pixel_mask`` (any bit) or a data set ``mask``; TIFF: one grey page; NPY: one array, booleans too.

    Parameters
    ----------
    path : of the file.
    rows, columns : shape that the mask must have.

    Returns
    -------
    array of bool (rows, columns), True = not to be used

    Raises
    ------
    DataError
        There is none, or its shape differs.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> np.save("mask.npy", sl.examples.mask())
    >>> int(sl.read_mask("mask.npy", rows=96, columns=96).sum())
    20
    """
    return _core.read_mask(fspath(path), rows, columns)


def unite(a: NDArray[np.bool_], b: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mask what either of two masks of one shape masks; an empty mask masks nothing.

    Parameters
    ----------
    a, b : (rows, columns), True = not to be used.

    Returns
    -------
    array of bool (rows, columns)

    Raises
    ------
    InputError
        The shapes differ.

    Examples
    --------
    >>> import sievelight as sl
    >>> left = sl.mask_rectangle((4, 6), x_px=(0, 0), y_px=(0, 3))
    >>> top = sl.mask_rectangle((4, 6), x_px=(0, 5), y_px=(3, 3))
    >>> int(sl.frames.unite(left, top).sum())
    9
    """
    return _core.unite(a, b)


def find_defects(
    counts: ArrayLike, *, masked: NDArray[np.bool_] | None = None, false_alarm: float = 1e-9, radius: int = 2
) -> NDArray[np.bool_]:
    """Find pixels that cannot be what their neighbourhood is: hot or dead.

    Parameters
    ----------
    counts : (rows, columns) counts, best the sum of many exposures.
    masked : pixels that take no part.
    false_alarm : chance per pixel that a good one is called a defect.
    radius : neighbours are looked at up to so many pixels away in each direction.

    Returns
    -------
    (rows, columns) mask of the defects alone.

    Raises
    ------
    InputError : unlike shapes, a chance outside (0, 1), or a radius below 1.

    Notes
    -----
    Steep slopes near the beamstop and sharp rings raise no alarm. Two hot pixels side by side are found, clusters of
    three are not; a reflection one pixel wide is not told from a hot pixel.

    Examples
    --------
    >>> import sievelight as sl
    >>> counts = sl.examples.frame().counts.copy()
    >>> counts[20, 70] = 5000  # hot
    >>> found = sl.find_defects(counts, masked=sl.examples.mask())
    >>> int(found.sum()), bool(found[20, 70])
    (1, True)
    """
    image = np.asarray(counts, dtype=float)
    nothing = np.zeros((0, 0), dtype=bool)
    return _core.find_defects(image, nothing if masked is None else masked, false_alarm=false_alarm, radius=radius)


def mask_rectangle(
    shape: tuple[int, int], *, x_px: tuple[float, float], y_px: tuple[float, float], outside: bool = False
) -> NDArray[np.bool_]:
    """Mask a rectangle of a detector.

    Parameters
    ----------
    shape : (rows, columns) of the detector.
    x_px, y_px : (low, high) of columns and of rows, in pixels from 0, edges included.
    outside : mask everything but the rectangle.

    Returns
    -------
    array of bool (rows, columns), True = not to be used

    Raises
    ------
    InputError
        It covers no pixel or leaves none.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.mask_rectangle((3, 5), x_px=(1, 2), y_px=(0, 1)).astype(int).tolist()
    [[0, 1, 1, 0, 0], [0, 1, 1, 0, 0], [0, 0, 0, 0, 0]]
    """
    return _core.mask_rectangle(*shape, x_px=x_px, y_px=y_px, outside=outside)


def mask_circle(
    shape: tuple[int, int], *, center_px: tuple[float, float], radius_px: float, outside: bool = False
) -> NDArray[np.bool_]:
    """Mask the pixels whose centres lie within a circle.

    Parameters
    ----------
    shape : (rows, columns) of the detector.
    center_px : (x = column, y = row), in pixels from 0.
    radius_px : in pixels.
    outside : mask everything but the circle.

    Returns
    -------
    array of bool (rows, columns), True = not to be used

    Raises
    ------
    InputError
        It covers no pixel or leaves none.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.mask_circle((3, 5), center_px=(2, 1), radius_px=1).astype(int).tolist()
    [[0, 0, 1, 0, 0], [0, 1, 1, 1, 0], [0, 0, 1, 0, 0]]
    """
    return _core.mask_circle(*shape, center_px=center_px, radius_px=radius_px, outside=outside)


def mask_polygon(
    shape: tuple[int, int], *, corners_px: Sequence[tuple[float, float]], outside: bool = False
) -> NDArray[np.bool_]:
    """Mask a polygon, the outline included. Where the outline crosses itself the even-odd rule decides.

    Parameters
    ----------
    shape : (rows, columns) of the detector.
    corners_px : three pairs (x = column, y = row) at least, in pixels from 0.
    outside : mask everything but the polygon.

    Returns
    -------
    array of bool (rows, columns), True = not to be used

    Raises
    ------
    InputError
        Fewer than three corners, corners on one line, or it covers no pixel or leaves none.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.mask_polygon((3, 5), corners_px=[(0, 0), (4, 0), (0, 2)]).astype(int).tolist()
    [[1, 1, 1, 1, 1], [1, 1, 1, 0, 0], [1, 0, 0, 0, 0]]
    """
    return _core.mask_polygon(*shape, corners_px=[(float(x), float(y)) for x, y in corners_px], outside=outside)


def mask_values(
    counts: ArrayLike, *, low: float | None = None, high: float | None = None, outside: bool = False
) -> NDArray[np.bool_]:
    """Mask pixels whose counts lie in a range.

    Parameters
    ----------
    counts : (rows, columns) counts.
    low, high : the range, both included; a limit that is left away is open.
    outside : mask everything but these, and what is not finite.

    Returns
    -------
    array of bool (rows, columns), True = not to be used

    Raises
    ------
    InputError
        Nothing is left.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.mask_values([[0, 3, 70000], [1, 2, 5]], high=0).tolist()
    [[True, False, False], [False, False, False]]
    """
    return _core.mask_values(
        np.asarray(counts, dtype=float),
        low=-math.inf if low is None else low,
        high=math.inf if high is None else high,
        outside=outside,
    )


def find_beamstop_shadow(
    counts: ArrayLike,
    *,
    beam_center_px: tuple[float, float],
    masked: NDArray[np.bool_] | None = None,
    contrast: float = 1.5,
    edge_px: float = 5.0,
    max_radius_px: float | None = None,
    margin_px: int = 1,
) -> BeamstopShadow:
    """Find the shadow of the beamstop and of the arm that holds it.

    Parameters
    ----------
    counts : (rows, columns) counts, best the sum of several exposures.
    beam_center_px : (column, row) of the beam point, in pixels; it may lie outside of the frame.
    masked : pixels that take no part.
    contrast : least ratio between the level outside and inside of the edge; an arm needs its square.
    edge_px : the edge is no wider, in pixels. Broad maxima of the scattering rise more slowly.
    max_radius_px : how far from the beam point an edge is looked for; a quarter of the frame's longer side by default.
    margin_px : pixels added around the shadow.

    Returns
    -------
    BeamstopShadow with ``found``, ``mask``, ``edge_radius_px``, ``shadow_level``, ``surround_level`` (counts per pixel)
    and ``words``. Where nothing stands out ``found`` is False, ``mask`` masks nothing, and ``words`` says so. The spot of
    the beam in the middle of a semi-transparent beamstop is masked with its shadow.

    Raises
    ------
    InputError : unlike shapes, or a beam point that is not finite.

    Notes
    -----
    Ring levels are medians of sector means; the region grows over connected pixels that are significantly (3 standard
    deviations of the counts) below what is expected at their place. Source: derivation.

    Examples
    --------
    >>> import sievelight as sl
    >>> geometry = sl.examples.geometry()
    >>> shadow = sl.find_beamstop_shadow(sl.examples.frame().counts, beam_center_px=geometry.beam_center_px)
    >>> shadow.found, bool(shadow.mask[49, 46]), round(shadow.edge_radius_px)
    (True, True, 2)
    """
    return _core.find_beamstop_shadow(
        np.asarray(counts, dtype=float),
        np.zeros((0, 0), dtype=bool) if masked is None else masked,
        beam_center_px=beam_center_px,
        contrast=contrast,
        edge_px=edge_px,
        max_radius_px=max_radius_px or 0.0,
        margin_px=margin_px,
    )


def _known(pairs: Sequence[tuple[str, Any, str]]) -> str:
    """The values that are known, each with its name and unit."""
    return ", ".join(f"{name} {value:.6g}{unit}" for name, value, unit in pairs if value is not None)


def _describe_metadata(m: FrameMetadata) -> str:
    facts = _known(
        [
            ("wavelength", m.wavelength_nm, " nm"),
            ("distance", m.distance_mm, " mm"),
            ("beam point column", m.beam_center_x_px, ""),
            ("row", m.beam_center_y_px, ""),
            ("pixel", m.pixel_size_x_mm, " mm"),
            ("saturation", m.saturation_value, ""),
        ]
    )
    return facts or "geometry not in the file"


def _times(exposures_s: NDArray[np.float64] | None) -> str:
    if exposures_s is None:
        return "exposure not known"
    low, high = exposures_s.min(), exposures_s.max()
    return f"{low:g} s each" if low == high else f"{low:g} to {high:g} s each"


def _lines(head: str, metadata: FrameMetadata) -> str:
    return "\n".join([head, f"  {_describe_metadata(metadata)}", *(f"  note: {note}" for note in metadata.notes)])


def _show_file(self: FrameFile) -> str:
    return _lines(
        f"<FrameFile {' '.join(filter(None, (self.format, self.dataset)))}: {self.count} x {self.rows} x {self.columns} {self.stored_type}, "
        f"compression {self.filters}, {_times(self.exposures_s)}{'' if self.monitors is None else ', with monitor'}>",
        self.metadata,
    )


def _show_frame(self: Frame) -> str:
    rows, columns = self.counts.shape
    seconds = "exposure not known" if math.isnan(self.exposure_s) else f"{self.exposure_s:g} s"
    monitor = "" if self.monitor is None else f", monitor {self.monitor:g}"
    return _lines(
        f"<Frame {rows} x {columns}, {self.exposures} exposure{'s' * (self.exposures != 1)}, {seconds}{monitor}, "
        f"{self.counts[~self.masked].sum():.0f} counts, {np.count_nonzero(self.masked)} pixels masked>",
        self.metadata,
    )


def _reopen(path: str, format: str, options: dict[str, Any]) -> FrameFile:
    """A file of frames in another process; it has to be of the same format there."""
    file = open_frames(path, **options)
    if file.format != format:
        raise data_error(
            f"'{path}' was opened as '{format}' and is '{file.format}' in this process.",
            "A format that is registered by a call is known in its own process only: install it as an entry point of the "
            f"group '{frame_formats.GROUP}'.",
        )
    return file


def _how_to_reopen(self: FrameFile) -> tuple[Any, ...]:
    options: dict[str, Any] = {"saturation_value": self.saturation_value, "exposure_s": self.exposure_s}
    if self.dataset:
        options["dataset"] = self.dataset
    return _reopen, (self.path, self.format, options)


FrameFile.__reduce__ = _how_to_reopen  # type: ignore[method-assign, assignment]
FrameFile.__repr__ = _show_file  # type: ignore[method-assign, assignment]
Frame.__repr__ = _show_frame  # type: ignore[method-assign, assignment]
