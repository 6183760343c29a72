# SPDX-License-Identifier: GPL-3.0-or-later
"""One run at a time in an output folder.

The lock is the system's own (a record lock of POSIX, which network file systems carry too): it ends with the process
that holds it, however that ends, so a crash leaves nothing to clean up. Its file says who holds it, for people.
Source: IEEE Std 1003.1-2017, fcntl(): locks are released when the process ends and are not inherited by its children.
"""

from __future__ import annotations

import errno
import fcntl
import os
import platform
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timezone
from pathlib import Path

from sievelight.errors import data_error, input_error
from sievelight.files import make_folders, remove_leftovers

NAME = ".in-use"
SUBFOLDERS = ("curves", "distributions", "checkpoints")
# What a file system says that has no locks to give.
NO_LOCKS = (errno.ENOLCK, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL)

# The system's lock is the process's; threads of one process are told apart here. Folder -> process, thread.
_held: dict[str, tuple[int, int]] = {}
_guard = threading.Lock()


@contextmanager
def output_held(output: Path) -> Iterator[bool]:
    """Make the output folder and keep every other run out of it, for as long as the `with` lasts.

    Gives False where the file system has no locks: then nobody can be kept out. What killed writers left is removed.
    Raises InputError naming who holds the folder already, DataError where it cannot be written.
    """
    make_folders(output)
    place = os.path.realpath(output)
    with _guard:
        holder = _held.get(place)
        if holder is not None and holder[0] == os.getpid():
            raise _taken(output, f"thread {holder[1]} of this very process ({os.getpid()})")
        _held[place] = (os.getpid(), threading.get_ident())
    file = -1
    try:
        file, locked = _lock(output)
        _tidy(output)
        yield locked
    finally:
        if file >= 0:
            _tidy(output)
            with suppress(OSError):  # before the lock goes, or the next one's file would be removed
                os.unlink(output / NAME)
            os.close(file)
        with _guard:
            _held.pop(place, None)


def is_abandoned(output: Path) -> bool:
    """Whether a run held this folder and died: its file is there, and nobody holds the lock."""
    with _guard:
        if os.path.realpath(output) in _held:
            return False
    try:
        file = os.open(output / NAME, os.O_RDWR | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    finally:
        os.close(file)
    return True


def _lock(output: Path) -> tuple[int, bool]:
    path = output / NAME
    while True:
        try:
            file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
        except OSError as error:
            raise data_error(
                f"'{output}' cannot be written ({error.strerror}).", "Check its rights and its disk, or choose another."
            ) from error
        try:
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in NO_LOCKS:
                return file, False
            holder = _read(file)
            os.close(file)
            raise _taken(output, holder) from error
        with suppress(OSError):
            if os.path.samestat(os.fstat(file), os.stat(path)):
                _say(file)
                return file, True
        os.close(file)  # its holder removed it between our two steps


def _say(file: int) -> None:
    """Write who we are; a full disk may leave it empty, which locks as well."""
    since = datetime.now(timezone.utc).strftime("%Y-%m-%d %H:%M UTC")
    with suppress(OSError):
        os.ftruncate(file, 0)
        os.pwrite(file, f"process {os.getpid()} on {platform.node()}, since {since}\n".encode(), 0)


def _read(file: int) -> str:
    with suppress(OSError):
        return os.pread(file, 200, 0).decode(errors="replace").strip()
    return ""


def _taken(output: Path, holder: str) -> Exception:
    return input_error(
        f"another run writes to '{output}': {holder or 'a process that has not said its name yet'}.",
        "Wait until it is done, or stop it; then run again. Two studies need two output folders.",
    )


def _tidy(output: Path) -> None:
    for folder in (output, *(output / name for name in SUBFOLDERS)):
        remove_leftovers(folder)
