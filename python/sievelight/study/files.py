# SPDX-License-Identifier: GPL-3.0-or-later
"""Files that appear whole or not at all, and what identifies their content."""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sievelight.errors import data_error


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a temporary path beside `path`; on success it is flushed to disk and takes the final name in one step.

    Killed or failing at any moment, the old file under the final name is untouched.
    """
    # Two machines may share a folder, and a task may be done twice: no two writers share a temporary name.
    temporary = path.with_name(f".{path.name}.{os.getpid()}-{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield temporary
        with open(temporary, "rb+") as file:
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except PermissionError as error:
        raise data_error(
            f"'{path}' cannot be written ({error.strerror}).", "Check the rights on the output folder."
        ) from error
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise
        raise data_error(
            f"'{path.name}' cannot be written: the disk or its quota is full ({error.strerror}).",
            "Free some space and run again; what is finished stands.",
        ) from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write a whole text file (UTF-8)."""
    with whole_file(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="")


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
