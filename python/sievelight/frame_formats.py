# SPDX-License-Identifier: GPL-3.0-or-later
"""Detector formats of your own, added from outside of the package.

Which one do I use, and when?

* An *entry point* of the group ``sievelight.frames`` for a format that stays: every process that can import your package
  knows it (notebooks, the command line, worker processes, the machines of a cluster that have it installed).
* :func:`register_frame_format` while you write it, in a script or notebook: it holds in this process alone, see there.

Either way a format is two functions::

    # camera.py, with this in its pyproject.toml:
    #     [project.entry-points."sievelight.frames"]
    #     "my camera" = "camera"
    import numpy as np
    import sievelight as sl

    def recognise(path, head):         # head: the file's first 4096 bytes
        return head.startswith(b"MYCAMERA")

    def read(path):
        counts = np.fromfile(path, dtype="<u4", offset=512).reshape(-1, 600, 500)
        return sl.RawFrames(counts, exposures_s=10.0, metadata={"distance_mm": 604.0})

After that ``open_frames``, ``inspect_file``, ``reduce_file``, ``calibrate``, studies and the command line read such files.
Formats that are added are asked before the built-in ones, so a peculiar TIFF can be claimed too.
"""

from __future__ import annotations

import hashlib
import inspect as source_of
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from os import fspath
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core
from sievelight._core import FrameFile, FrameMetadata
from sievelight.errors import SIEVELIGHT_ERRORS, data_error, input_error, nearest

__all__ = ["FrameFormat", "RawFrames", "forget_frame_format", "known_frame_formats", "register_frame_format"]

GROUP = "sievelight.frames"
HEAD_BYTES = 4096
BUILT_IN = ("HDF5", "TIFF", "CBF", "NPY", "text")
METADATA = tuple(name for name in dir(FrameMetadata) if not name.startswith("_"))

Recognise = Callable[[Path, bytes], bool]


@dataclass(frozen=True)
class RawFrames:
    """What the reader of a format gives back: counts as the detector stored them, and what the file says beside them.

    Attributes
    ----------
    counts : integers of 8 to 64 bits, or float32 or float64: (rows, columns), (exposures, rows, columns), or (columns,) of a
        strip. An array, or any object with ``shape``, ``dtype`` and ``[i]`` for one exposure, so that long stacks can stay in
        their file until an exposure is asked for. Neither summed nor scaled, no dark subtracted. Gaps and defects may stay
        in as markers (negative, NaN, or the type's largest number): they are masked on reading.
    exposures_s : seconds of each exposure, one number for all or (exposures,); None where the file does not say.
    monitors : as ``exposures_s``, the reading of a monitor in each exposure.
    masked : (rows, columns), True or non-zero where a pixel must never be used.
    metadata : a mapping of the names of FrameMetadata to their values (``wavelength_nm``, ``distance_mm``,
        ``beam_center_x_px``, ``beam_center_y_px``, ``pixel_size_x_mm``, ``saturation_value``, ``dead_time_s``, ..., ``notes``).

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> read = sl.RawFrames(np.zeros((5, 60, 50), dtype=np.uint32), exposures_s=10.0, metadata={"distance_mm": 604.0})
    >>> read.counts.shape, read.exposures_s
    ((5, 60, 50), 10.0)
    """

    counts: Any
    exposures_s: ArrayLike | None = None
    monitors: ArrayLike | None = None
    masked: ArrayLike | None = None
    metadata: Mapping[str, Any] | FrameMetadata = field(default_factory=dict)


@dataclass(frozen=True)
class FrameFormat:
    """A format that was added: its ``name``, where it comes from in words, and its version with the start of its source's
    SHA-256 (results of a study are made anew when either changes)."""

    name: str
    origin: str
    version: str
    recognise: Recognise = field(repr=False)
    read: Callable[[Path], Any] = field(repr=False)


_registered: dict[str, FrameFormat] = {}


def register_frame_format(name: str, *, recognise: Recognise, read: Callable[[Path], Any]) -> None:
    """Add a detector format in this process.

    Parameters
    ----------
    name : what the format is called in messages and records. One that was added before under this name is replaced.
    recognise : called as recognise(path, head) with the path (pathlib.Path) and the first 4096 bytes of any file that is
        opened; returns whether it is of this format. Look at the content rather than the suffix, and be strict.
    read : called as read(path); returns :class:`RawFrames`, or the counts alone as an array.

    Raises
    ------
    InputError : the name is empty or that of a built-in format, or one of the two is no function.

    Notes
    -----
    *What does not work.* Other processes do not see the call: the command line, `LocalCrew` and clusters do their work in
    processes that start afresh. (A script that registers at its top level, outside of ``if __name__ == "__main__"``, is
    the exception for a `LocalCrew`: its workers run the script's top level too.) The samples of a study that need the
    format there become findings that say so. Make it an entry point of the group ``sievelight.frames``, see :mod:`sievelight.frame_formats`.

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> sl.register_frame_format(
    ...     "my camera",
    ...     recognise=lambda path, head: head.startswith(b"MYCAMERA"),
    ...     read=lambda path: np.fromfile(path, dtype="<u4", offset=8).reshape(20, 30),
    ... )
    >>> [f.name for f in sl.known_frame_formats() if f.origin == "registered in this process"]
    ['my camera']
    >>> sl.forget_frame_format("my camera")
    """
    _registered[name] = _checked(name, "registered in this process", "", recognise, read)


def forget_frame_format(name: str) -> None:
    """Undo :func:`register_frame_format`. Raises InputError when no format of that name was registered in this process.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.register_frame_format(
    ...     "my camera",
    ...     recognise=lambda path, head: head.startswith(b"MYCAMERA"),
    ...     read=lambda path: sl.RawFrames(counts=[[1, 2], [3, 4]], exposures_s=10.0, metadata={"distance_mm": 604.0}),
    ... )
    >>> sl.forget_frame_format("my camera")
    >>> "my camera" in [known.name for known in sl.known_frame_formats()]
    False
    """
    if name not in _registered:
        mend = nearest(name, _registered) if _registered else "None is; an installed one goes with its package."
        raise input_error(f"no frame format '{name}' was registered in this process.", mend)
    del _registered[name]


def known_frame_formats() -> list[FrameFormat]:
    """The formats that were added: installed ones (entry points, looked for once a process), then those registered here.

    A registered format stands in for an installed one of its name.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.register_frame_format(
    ...     "my camera",
    ...     recognise=lambda path, head: head.startswith(b"MYCAMERA"),
    ...     read=lambda path: sl.RawFrames(counts=[[1, 2], [3, 4]], exposures_s=10.0, metadata={"distance_mm": 604.0}),
    ... )
    >>> [known.name for known in sl.known_frame_formats() if known.name == "my camera"]
    ['my camera']
    >>> sl.forget_frame_format("my camera")
    """
    installed, _ = _installed()
    return [f for f in installed if f.name not in _registered] + list(_registered.values())


def _checked(name: str, origin: str, version: str, recognise: Any, read: Any) -> FrameFormat:
    if not isinstance(name, str) or not name.strip() or name.lower() in [known.lower() for known in BUILT_IN]:
        raise input_error(
            f"a frame format cannot be called {name!r}.",
            f"Choose a name other than those of the built-in formats ({', '.join(BUILT_IN)}).",
        )
    for word, function in (("recognise", recognise), ("read", read)):
        if not callable(function):
            raise input_error(
                f"the frame format '{name}' has no function `{word}`.",
                "A format is two functions: recognise(path, head) and read(path).",
            )
    digest = hashlib.sha256(b"".join(_source(f) for f in (recognise, read))).hexdigest()
    return FrameFormat(name, origin, f"{version} {digest[:12]}".strip(), recognise, read)


def _source(function: Any) -> bytes:
    """The text that a function's results hang on: its module, or in a notebook the function itself."""
    function = source_of.unwrap(function)
    module = sys.modules.get(getattr(function, "__module__", "") or "")
    try:
        # A script is __main__ in its own process and __mp_main__ in the workers that it starts.
        if module is not None and module.__name__ not in ("__main__", "__mp_main__"):
            return source_of.getsource(module).encode()
        return source_of.getsource(function).encode()
    except (OSError, TypeError):
        code = getattr(function, "__code__", None)
        return repr((code.co_code, code.co_consts, code.co_names) if code else function).encode()


@cache
def _installed() -> tuple[tuple[FrameFormat, ...], tuple[str, ...]]:
    """Formats of installed packages, and in words those that cannot be used."""
    from importlib.metadata import entry_points  # here: it costs import time that most calls never need

    found: list[FrameFormat] = []
    broken: list[str] = []
    seen = set()
    for point in entry_points(group=GROUP):
        dist = point.dist
        origin = f"package {dist.name} {dist.version}" if dist else "installed"
        if (point.name, point.value, origin) in seen:  # a package that is found twice on the path
            continue
        seen.add((point.name, point.value, origin))
        try:
            target = point.load()
            recognise, read = getattr(target, "recognise", None), getattr(target, "read", None)
            found.append(_checked(point.name, origin, dist.version if dist else "", recognise, read))
        except Exception as error:  # somebody else's code: whatever it is, files of other formats must still open
            broken.append(f"the reader '{point.name}' ({origin}) cannot be used: {_words(error)}")
    return tuple(found), tuple(broken)


def _words(error: BaseException) -> str:
    text = getattr(error, "problem", None) or str(error).split("\n")[0]
    return f"{type(error).__name__}: {text}".rstrip(": ")


def find_format(path: str) -> tuple[FrameFormat | None, list[str]]:
    """The added format that claims a file, or None, and in words what went wrong while asking.

    Raises DataError when two claim it. Files that cannot be read are claimed by none.
    """
    formats, failed = known_frame_formats(), list(_installed()[1])
    if not formats:
        return None, failed
    try:
        with open(path, "rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError:
        return None, failed
    claims = []
    for one in formats if head else ():
        try:
            if one.recognise(Path(path), head):
                claims.append(one)
        except Exception as error:
            failed.append(f"the reader '{one.name}' ({one.origin}) failed to look at this file: {_words(error)}")
    if len(claims) > 1:
        names = " and ".join(f"'{one.name}' ({one.origin})" for one in claims)
        raise data_error(
            f"'{path}' is claimed by {len(claims)} readers: {names}.",
            "Let `recognise` of one of them look closer, uninstall its package, or undo its call with "
            "forget_frame_format.",
        )
    return (claims[0] if claims else None), failed


def claimed(paths: list[Path]) -> dict[str, str]:
    """Name and version of every added format that claims one of these files; files in dispute are left to their opening."""
    found: dict[str, str] = {}
    if not known_frame_formats():
        return found
    for path in paths:
        try:
            one, _ = find_format(fspath(path))
        except SIEVELIGHT_ERRORS:
            continue
        if one is not None:
            found[one.name] = one.version
    return found


def require_same(wanted: Mapping[str, str], *, where: str) -> None:
    """InputError where this process lacks a format that another one reads files with, or has it in another version."""
    here = {one.name: one.version for one in known_frame_formats()}
    for name, version in wanted.items():
        if name not in here:
            raise input_error(
                f"{where} does not know the frame format '{name}', with which the study's own process reads its files.",
                "A call of register_frame_format holds in its own process only: install the format as an entry point "
                f"of the group '{GROUP}' (on every machine of a cluster), or run the study without workers.",
            )
        if here[name] != version:
            raise input_error(
                f"{where} has the frame format '{name}' as {here[name]}, the study's own process as {version}.",
                "Install the same version everywhere; after a change restart this process and the workers.",
            )


def open_added(
    path: str, one: FrameFormat, *, saturation_value: float | None = None, exposure_s: float | None = None
) -> FrameFile:
    """Open a file by the format that claims it. DataError names the reader where it fails or gives what is no frame."""
    by = f"the reader '{one.name}' ({one.origin})"
    try:
        raw = one.read(Path(path))
    except SIEVELIGHT_ERRORS:
        raise  # a reader that says it in our way has said what and how to mend
    except Exception as error:
        raise data_error(
            f"{by} failed on '{path}': {_words(error)}.",
            "Is the file whole? If so the reader is at fault: ask who wrote it.",
        ) from error
    if not isinstance(raw, RawFrames):
        raw = RawFrames(raw)
    shape, dtype = getattr(raw.counts, "shape", None), getattr(raw.counts, "dtype", None)
    mend = "Give counts of (rows, columns) or (exposures, rows, columns), or (columns,) of a strip."
    if shape is None or dtype is None:
        kind = type(raw.counts).__name__
        raise data_error(
            f"{by} gave a {kind} for '{path}', which is no array.", f"Return RawFrames or an array. {mend}"
        )
    if not 1 <= len(shape) <= 3:
        raise data_error(
            f"{by} gave counts of {len(shape)} dimensions for '{path}' ({' x '.join(map(str, shape))}).", mend
        )
    count, rows, columns = (1,) * (3 - len(shape)) + tuple(int(n) for n in shape)
    native = np.dtype(dtype).newbyteorder("=")

    def fetch(index: int) -> NDArray[Any]:
        try:
            array = np.asarray(raw.counts[index] if len(shape) == 3 else raw.counts)
        except SIEVELIGHT_ERRORS:
            raise
        except Exception as error:
            raise data_error(
                f"{by} failed on frame {index} of '{path}': {_words(error)}.", "Has the file changed? Open it again."
            ) from error
        if array.size != rows * columns or array.shape not in ((rows, columns), shape) or array.dtype != dtype:
            raise data_error(
                f"{by} gave {' x '.join(map(str, array.shape))} of {array.dtype} for frame {index} of '{path}', "
                f"and {rows} x {columns} of {dtype} was announced.",
                "Every exposure of a file has the shape and type that `counts.shape` and `counts.dtype` say.",
            )
        return np.ascontiguousarray(array, dtype=native)

    try:
        masked = None if raw.masked is None else np.asarray(raw.masked) != 0
        if masked is not None and masked.ndim != 2:
            raise ValueError(f"its mask has {masked.ndim} dimensions")
        file = _core.given_frames(
            path,
            format=one.name,
            stored_type=native.name,
            count=count,
            rows=rows,
            columns=columns,
            fetch=fetch,
            metadata=_metadata(raw.metadata),
            exposures_s=_each(raw.exposures_s, count),
            monitors=_each(raw.monitors, count),
            masked=masked,
            saturation_value=saturation_value,
            exposure_s=exposure_s,
        )
    except _core.DataError as error:
        raise data_error(f"{by}: {error.problem}", error.mend) from error
    except _core.InputError:
        raise  # of the caller's saturation value or exposure
    except (TypeError, ValueError) as error:
        said = str(error).split("\n")[0].rstrip(".")
        raise data_error(
            f"{by} gave for '{path}' what cannot be understood: {said}{'' if said.endswith('?') else '.'}",
            "See RawFrames for what a reader returns, with shapes and units.",
        ) from error
    file.add_note(f"read by '{one.name}' ({one.origin})")
    return file


def _each(values: ArrayLike | None, count: int) -> NDArray[np.float64]:
    if values is None:
        return np.zeros(0)
    array = np.asarray(values, dtype=float)
    return np.full(count, float(array)) if array.ndim == 0 else array.ravel()


def _metadata(given: Mapping[str, Any] | FrameMetadata) -> FrameMetadata:
    if isinstance(given, FrameMetadata):
        return given
    if not isinstance(given, Mapping):
        raise ValueError(f"its metadata is a {type(given).__name__}, not a mapping")
    metadata = FrameMetadata()
    for name, value in given.items():
        if name not in METADATA:
            raise ValueError(f"its metadata has '{name}'. {nearest(str(name), METADATA)}")
        try:
            setattr(metadata, name, list(value) if name == "notes" else value)
        except TypeError:
            raise ValueError(f"its metadata says {name} = {value!r}") from None
    return metadata


def known_formats_note(failed: list[str]) -> str:
    """What to add to a message that nobody could open a file: which readers were asked, and which failed."""
    names = [f"'{one.name}'" for one in known_frame_formats()]
    asked = f" Of the added formats none claims it: {', '.join(names)}." if names else ""
    return asked + "".join(f" Besides, {words}." for words in failed)
