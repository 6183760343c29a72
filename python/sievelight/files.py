# SPDX-License-Identifier: GPL-3.0-or-later
"""Files that appear whole or not at all, and what identifies their content."""

from __future__ import annotations

import hashlib
import io
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sievelight import _core
from sievelight.errors import data_error, input_error

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file, whole or not at all: killed or failing at any moment, what stood under the name is untouched.

    Folders on the way are made. Raises DataError where it cannot be written, or the disk is full.
    """
    write_together({path: data})


def write_text(path: Path, text: str) -> None:
    """Write a text file (UTF-8), whole or not at all."""
    write_bytes(path, text.encode())


def write_array(path: Path, values: Any) -> None:
    """Write an array as an NPY file, whole or not at all."""
    data = io.BytesIO()
    np.save(data, values, allow_pickle=False)
    write_bytes(path, data.getvalue())


def write_together(files: Mapping[Path, bytes | str]) -> None:
    """Write files that belong together: all are on the disk, whole, before the first takes its name."""
    for folder in {path.parent for path in files}:
        make_folders(folder)
    _core.write_whole([(os.fspath(p), c.encode() if isinstance(c, str) else c) for p, c in files.items()])


def make_folders(folder: Path) -> None:
    """Make a folder and those above it, to last over a power cut. Raises DataError."""
    _core.make_folders(os.fspath(folder))


def flush_folder(folder: Path) -> None:
    """Let names that came or went in a folder last over a power cut. Raises DataError."""
    _core.flush_folder(os.fspath(folder))


def remove_leftovers(folder: Path) -> None:
    """Remove what writers that were killed left in a folder; only for who knows that nobody writes there."""
    _core.remove_leftovers(os.fspath(folder))


def write_figure(path: Path, figure: Figure, *, dpi: float = 160) -> None:
    """Write a picture, whole or not at all; the suffix names its format.

    Raises InputError where no picture can be written under that name.
    """
    kind = path.suffix.lower().removeprefix(".")
    if kind not in figure.canvas.get_supported_filetypes():
        raise input_error(f"'{path}' names no format of a picture.", "Let it end in .png, .svg or .pdf.")
    data = io.BytesIO()
    figure.savefig(data, dpi=dpi, format=kind)
    write_bytes(path, data.getvalue())


def sha256(path: Path) -> str:
    """SHA-256 of a file's bytes, as hexadecimal. DataError when it cannot be read."""
    digest = hashlib.sha256()
    if path.exists() and not path.is_file():  # a pipe waits for ever, a device has no end
        raise data_error(f"'{path}' is no file.", "Give a file on a disk, no folder, pipe or device.")
    try:
        with open(path, "rb") as file:
            while block := file.read(1 << 20):
                digest.update(block)
    except OSError as error:
        raise data_error(
            f"The file '{path}' cannot be read ({error.strerror}).",
            "Check its path in the study file or the measurement table.",
        ) from error
    return digest.hexdigest()


def safe_name(name: str) -> str:
    """A measurement's name as a file name: letters, digits, dot, dash and underscore; never a path, never too long."""
    kept = "".join(c if c.isalnum() or c in "-_." else "_" for c in name).lstrip(".")
    # File systems take 255 bytes, of which endings and the temporary name need some.
    kept = kept.encode()[:160].decode(errors="ignore")
    # Two names that differ only in replaced characters must not share a file.
    return kept if name and kept == name else f"{kept or 'row'}-{hashlib.sha256(name.encode()).hexdigest()[:8]}"
