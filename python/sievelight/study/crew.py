# SPDX-License-Identifier: GPL-3.0-or-later
"""Who does the samples of a study: this process, an executor of the caller's, processes of our own, or a cluster.

Which one do I use? Nothing for a few samples; `LocalCrew` for many on one machine; any `concurrent.futures.Executor`
where a program has one already; `study.cluster.cluster_crew` for many machines. The numbers are the same.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from multiprocessing.connection import wait as wait_for_process

from sievelight.study.findings import Finding
from sievelight.study.task import Job, Outcome, Task, run_task

# Tasks handed out and not finished, for each worker: one at work, one waiting so that nobody idles, one to spare.
IN_HAND = 3


class Crew:
    """An executor of the caller's, and how many tasks it is given at once."""

    def __init__(self, executor: Executor, workers: int | None = None) -> None:
        self.executor: Executor | None = executor
        self._workers = workers or getattr(executor, "_max_workers", None) or os.cpu_count() or 1

    def start(self, tasks: int) -> None:
        """Make ready for this many tasks."""

    def room(self) -> int:
        """Tasks that may be handed out and unfinished."""
        return IN_HAND * self._workers

    def lost(self) -> bool:
        """Whether nothing will come back from this executor any more."""
        return False

    def renew(self) -> bool:
        """Replace an executor that broke; False where that is the caller's business."""
        return False

    def stop(self) -> None:
        """Drop what is at work, where that is ours to drop; a study that is stopped goes on from finished samples."""

    def close(self) -> None:
        """Free what this crew itself has started."""


class LocalCrew(Crew):
    """Processes of our own on this machine, which share its cores; a process that dies is replaced.

    With one task, or one worker, the study's own process does the work with all its threads.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.executor = None
        self._workers = self._wanted = max(1, workers or available_cores())

    def start(self, tasks: int) -> None:
        """Start no more processes than there are tasks, and none for one."""
        self._workers = min(self._wanted, tasks)
        if self._workers > 1:
            self.renew()

    def renew(self) -> bool:
        """Stop the processes that are left and start anew."""
        self.close()
        # A fresh interpreter: a fork would copy locks that threads of the core or of HDF5 hold.
        context = multiprocessing.get_context("spawn")
        threads = max(1, available_cores() // self._workers)  # of few samples on many cores each gets several
        self.executor = ProcessPoolExecutor(
            self._workers, mp_context=context, initializer=_as_worker, initargs=(threads,)
        )
        return True

    def stop(self) -> None:
        """End the processes at once; their files appear whole or not at all."""
        for process in list(getattr(self.executor, "_processes", None) or {}):
            with contextlib.suppress(OSError):
                os.kill(process, signal.SIGTERM)

    def close(self) -> None:
        """Stop the processes after what they have in hand; what was only waiting is dropped."""
        if self.executor is not None:
            self.executor.shutdown(wait=True, cancel_futures=True)
            self.executor = None


def available_cores() -> int:
    """Cores that this process may use, which on a shared machine are fewer than it has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _as_worker(threads: int) -> None:
    """Use this worker's share of the cores, leave Ctrl-C to the study's own process, and end with it however it ends."""
    os.environ.setdefault("SIEVELIGHT_THREADS", str(threads))
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def follow() -> None:
        wait_for_process([parent.sentinel])
        os._exit(1)  # nothing is half written: files take their names when they are whole

    threading.Thread(target=follow, daemon=True).start()


def do_all(job: Job, tasks: list[Task], crew: Crew | None, finished: Callable[[Task, Outcome], None]) -> None:
    """Do all tasks and tell each as it is finished, in any order.

    A task whose worker died is done again, alone, where the crew can be renewed; one that brings its worker down then
    too becomes a finding. However this ends, what was handed out and not begun is called back.
    """
    if crew is not None:
        crew.start(len(tasks))
    if crew is None or crew.executor is None:
        for task in tasks:
            finished(task, run_task(job, task))
        return
    lost = list(_hand_out(job, tasks, crew, crew.room, finished))
    while lost and crew.renew():
        suspect, *others = lost
        again = list(_hand_out(job, [suspect], crew, lambda: 1, finished))
        for task in again:
            finished(task, _died(task))
        if again and others:
            crew.renew()
        lost = list(_hand_out(job, others, crew, crew.room, finished)) if others else []
    for task in lost:
        finished(task, _gone(task))


def _hand_out(
    job: Job, tasks: Iterable[Task], crew: Crew, room: Callable[[], int], finished: Callable[[Task, Outcome], None]
) -> Iterator[Task]:
    """Keep the crew busy; gives back the tasks that were lost with their workers."""
    assert crew.executor is not None
    waiting = iter(tasks)
    begun: dict[Future[Outcome], Task] = {}
    broken = False
    try:
        while True:
            while not broken and len(begun) < max(1, room()):
                task = next(waiting, None)
                if task is None:
                    break
                try:
                    begun[crew.executor.submit(run_task, job, task)] = task
                except (BrokenExecutor, RuntimeError):  # the latter: it was shut down
                    broken = True
                    yield task
            if not begun:
                break
            # Not for ever: a cluster that is gone leaves futures that are cancelled and never say so.
            wait(begun, timeout=2.0, return_when=FIRST_COMPLETED)
            if crew.lost():
                yield from begun.values()
                begun.clear()
                broken = True
            for future in [f for f in begun if f.done()]:
                task = begun.pop(future)
                try:
                    outcome = future.result()
                except BrokenExecutor:
                    broken = True
                    yield task
                    continue
                except CancelledError:
                    yield task
                    continue
                except Exception as error:
                    outcome = _not_done(task, error)
                finished(task, outcome)
        yield from waiting
    finally:
        for future in begun:
            with contextlib.suppress(Exception):
                future.cancel()


def _died(task: Task) -> Outcome:
    return _failed(
        task,
        "The process that worked on this measurement died, and died again with nothing beside it.",
        "Look at its memory (the system ends the largest process when memory runs out), then run again: finished "
        "samples stand.",
    )


def _gone(task: Task) -> Outcome:
    return _failed(
        task,
        "Not done: the executor or the cluster was lost before this measurement's turn was over.",
        "See why it ended (a worker process that died, a scheduler that does not answer), then run again: finished "
        "samples stand.",
    )


def _not_done(task: Task, error: BaseException) -> Outcome:
    name = type(error).__name__
    return _failed(
        task,
        f"The executor gave this measurement back undone: {name}: {str(error).splitlines()[0] if str(error) else ''}".rstrip(
            ": "
        ),
        "Look at the executor or the cluster (a worker that dies again and again, a lost scheduler), then run again: "
        "finished samples stand.",
    )


def _failed(task: Task, what: str, mend: str) -> Outcome:
    return Outcome(task.row.name, False, (Finding("error", task.row.name, what, f"row {task.row.row}", mend),))
