# SPDX-License-Identifier: GPL-3.0-or-later
"""The samples of a study on a cluster of machines, through Dask distributed (the optional extra `cluster`).

The machines need the same version of this package and the study's folder under the same path. A worker that dies is the
scheduler's business: it gives that worker's tasks to another (and gives up on a task that brings several down).
"""

from __future__ import annotations

import gc
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import Any

from sievelight._core import __version__
from sievelight.errors import input_error
from sievelight.study.crew import IN_HAND, Crew

TIME_LIMIT_S = 20.0  # for a scheduler to answer, and for its first worker
ASK_AGAIN_S = 5.0  # how many workers there are


class ClusterCrew(Crew):
    """The workers of a Dask cluster, as many as there are at the moment."""

    def __init__(self, client: Any) -> None:
        super().__init__(client.get_executor(pure=False))
        self._client = client
        self._asked = 0.0
        self._room = 1

    def room(self) -> int:
        """Three tasks for each thread of each worker that is there now; workers may come and go."""
        if time.monotonic() > self._asked + ASK_AGAIN_S:
            with suppress(OSError, TimeoutError):  # a scheduler that does not answer may come back: see `lost`
                self._room = IN_HAND * int(sum(self._client.nthreads().values()))
            self._asked = time.monotonic()
        return self._room

    def lost(self) -> bool:
        """Whether the scheduler has not come back within the time limit."""
        return str(self._client.status) in ("closing", "closed")


@contextmanager
def cluster_crew(address: str, *, time_limit_s: float = TIME_LIMIT_S) -> Iterator[ClusterCrew]:
    """Connect to a Dask scheduler for as long as the `with` lasts.

    Parameters
    ----------
    address : of the scheduler, like "tcp://host:8786".
    time_limit_s : for it to answer, and for its first worker.

    Yields
    ------
    ClusterCrew
        For the `executor` of `run_study`.

    Raises
    ------
    InputError
        Dask is missing, nobody answers within the time limit, there is no worker, or a worker lacks this package in this
        version.

    Examples
    --------
    >>> import sievelight as sl
    >>> with sl.study.cluster_crew("tcp://127.0.0.1:1", time_limit_s=0.5) as crew:
    ...     result = sl.run_study("study.toml", executor=crew)
    Traceback (most recent call last):
        ...
    sievelight.InputError: ...
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError as error:
        raise input_error(
            "a cluster needs the package 'distributed', which is not installed.",
            "Install the extra: pip install 'sievelight[cluster]'.",
        ) from error
    client = None
    try:
        client = distributed.Client(address, timeout=time_limit_s, set_as_default=False)
    except (OSError, ValueError, TimeoutError):
        pass  # told below, when nothing holds the half-made client any longer
    if client is None:
        # It closes itself when it is collected. Left to chance that happens inside another call of Dask, whose locks it
        # then waits for without end.
        gc.collect()
        raise input_error(
            f"no Dask scheduler answers at '{address}' within {time_limit_s:g} s.",
            "Start one with `dask scheduler` and workers with `dask worker ADDRESS`; check host, port and firewall.",
        )
    try:
        _check_workers(client, address, time_limit_s)
        yield ClusterCrew(client)
    finally:
        client.close(timeout=time_limit_s)


def _check_workers(client: Any, address: str, time_limit_s: float) -> None:
    try:
        client.wait_for_workers(1, timeout=time_limit_s)
    except TimeoutError as error:
        raise input_error(
            f"the Dask scheduler at '{address}' has no worker after {time_limit_s:g} s.",
            f"Start one with `dask worker {address}`.",
        ) from error
    for worker, version in client.run(_version, on_error="return").items():
        if version != __version__:
            found = f"has sievelight {version}" if isinstance(version, str) else f"cannot load sievelight ({version})"
            raise input_error(
                f"the worker at '{worker}' {found}; the study is started with {__version__}.",
                "Install the same version on all machines of the cluster.",
            )


def _version() -> str:
    return __version__
