# SPDX-License-Identifier: GPL-3.0-or-later
"""Detector frames: opening files, adding exposures, masks.

Which one do I use, and when?

* :func:`open_frames` looks at a file and shows what it understood: where the frames stand, the geometry, exposure times,
  monitors, and in ``metadata.notes`` every assumption. Then ``file.read(i)`` gives one exposure and
  ``file.read_sum([...])`` the sum of some (all when left out), with the times and monitors summed.
* :func:`sum_frames` adds frames that come from several files.
* :func:`read_mask` reads a mask that was drawn; :func:`find_defects` finds hot and dead pixels; :func:`unite` joins masks.

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

from sievelight import _core
from sievelight._core import Frame, FrameFile, FrameMetadata

__all__ = [
    "Frame",
    "FrameFile",
    "FrameMetadata",
    "find_defects",
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
    DataError : the file is missing, truncated, compressed with an unknown filter, or holds no detector frame.

    Notes
    -----
    Field names as in the NeXus classes NXdetector, NXmonitor and NXmonochromator and the definition NXsas, and in the
    imgCIF dictionary. Whatever was assumed stands in ``metadata.notes``.
    """
    return _core.open_frames(fspath(path), dataset=dataset, saturation_value=saturation_value, exposure_s=exposure_s)


def sum_frames(frames: Sequence[Frame]) -> Frame:
    """Add frames of one measurement: counts, exposure times and monitors add, a pixel masked in any is masked.

    Raises InputError when there is none, or when their shapes differ.
    """
    return _core.sum_frames(list(frames))


def read_mask(path: str | PathLike[str], *, rows: int, columns: int) -> NDArray[np.bool_]:
    """Read a mask of (rows, columns): non-zero = masked, whatever the file's suffix.

    HDF5: NeXus ``pixel_mask`` (any bit) or a data set ``mask``; TIFF: one grey page; NPY: one array, booleans too.

    Raises DataError when there is none or when its shape differs.
    """
    return _core.read_mask(fspath(path), rows, columns)


def unite(a: NDArray[np.bool_], b: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mask what either of two masks of one shape masks; an empty mask masks nothing."""
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

    Notes
    -----
    Steep slopes near the beamstop and sharp rings raise no alarm. Two hot pixels side by side are found, clusters of
    three are not; a reflection one pixel wide is not told from a hot pixel.
    """
    image = np.asarray(counts, dtype=float)
    nothing = np.zeros((0, 0), dtype=bool)
    return _core.find_defects(image, nothing if masked is None else masked, false_alarm=false_alarm, radius=radius)


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


FrameFile.__repr__ = _show_file  # type: ignore[method-assign]
Frame.__repr__ = _show_frame  # type: ignore[method-assign]
