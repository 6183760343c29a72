# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether anybody can see a widget: it lives in a notebook, whose kernel carries what the hand does.

JupyterLab gives the events of different controls to different threads of the kernel, so all that widgets do is done under
one lock: a hand does one thing at a time.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable
from typing import ParamSpec, TypeVar

import comm

from sievelight.errors import input_error

P = ParamSpec("P")
T = TypeVar("T")
LOCK = threading.RLock()


def one_at_a_time(does: Callable[P, T]) -> Callable[P, T]:
    """Do it under the lock of all widgets."""

    @functools.wraps(does)
    def locked(*args: P.args, **kwargs: P.kwargs) -> T:
        with LOCK:
            return does(*args, **kwargs)

    return locked


def kernel_is_there() -> bool:
    """Whether this Python is the kernel of a notebook; kernels put their own `create_comm` in the place of comm's."""
    return comm.create_comm.__module__ != "comm"


def need_kernel(widget: str, by_code: str) -> None:
    """Refuse to make a widget that nobody could see or touch.

    by_code : how to do the same without a notebook.
    Raises InputError.
    """
    if not kernel_is_there():
        raise input_error(
            f"{widget} was asked for outside of a notebook: there is no kernel that could carry a click.",
            f"Run this cell in JupyterLab (`jupyter lab`); in a script do the same by code: {by_code}.",
        )
