# SPDX-License-Identifier: GPL-3.0-or-later
"""Run a study beside the notebook, see how far it is, and stop it without losing what is finished."""

from __future__ import annotations

import html
import threading
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import ipywidgets as ipw

from sievelight.errors import SIEVELIGHT_ERRORS, data_error, input_error
from sievelight.study import StudyResult, run_study
from sievelight.widgets.controls import Shown, StatusLine, button, row
from sievelight.widgets.kernel import need_kernel, one_at_a_time

READY, RUNNING, STOPPING, STOPPED, FINISHED, FAILED = "ready", "running", "stopping", "stopped", "finished", "failed"


class _StoppedByHand(BaseException):
    """Ends a run from within its progress call; no Exception, so that no handler takes it for a bad measurement."""


class StudyWatcher(Shown):
    """Runs a study in a thread, so that the notebook stays free; shows its progress and the time left.

    Parameters
    ----------
    path : the study file.
    executor, output : as in :func:`sievelight.run_study`.

    Attributes
    ----------
    state : "ready", "running", "stopping", "stopped", "finished" or "failed".
    done, total, doing : steps done, steps in all, and what is being done.
    result : the StudyResult once finished, else None.  error : what ended a failed run, else None.
    start(), stop(), wait(timeout_s) : what the buttons do, and waiting for the end.
    code : Python that runs the same study.

    A stop takes effect when the sample at work is finished; finished samples stand, and the next start goes on from them.

    Raises
    ------
    InputError : outside of a notebook.  DataError : there is no such file.

    Examples
    --------
    ::

        watcher = widgets.StudyWatcher("study.toml")   # and `watcher` on the last line; then press Start
        watcher.result
    """

    def __init__(self, path: str | Path, *, executor: Any = None, output: str | Path | None = None) -> None:
        need_kernel("StudyWatcher", "result = sl.run_study(path)")
        self.path = Path(path)
        if not self.path.is_file():
            raise data_error(f"There is no study file '{path}'.", "Check the path; a study starts from a .toml file.")
        self._options = {"executor": executor, "output": output}
        self.state = READY
        self.done, self.total, self.doing = 0, 0, ""
        self.result: StudyResult | None = None
        self.error: BaseException | None = None
        self._thread: threading.Thread | None = None
        self._halt = threading.Event()
        self._first: tuple[float, int] | None = None  # when the samples began, and the steps done then
        self._make_controls()
        self._show()

    @property
    def code(self) -> str:
        """Python that runs the same study and writes its report."""
        output = "" if self._options["output"] is None else f", output={str(self._options['output'])!r}"
        return f"result = sl.run_study({str(self.path)!r}{output})\nsievelight.report.write_report(result)"

    @one_at_a_time
    def start(self) -> None:
        """Run the study, or go on with it. Raises InputError while it runs."""
        if self._thread is not None and self._thread.is_alive():
            raise input_error("the study is running already.", "Wait for it, or stop it first.")
        self._halt.clear()
        self.state, self.result, self.error, self._first = RUNNING, None, None, None
        self.done, self.total, self.doing = 0, 0, "reading the study"
        self._show()
        self._thread = threading.Thread(target=self._run, name="study", daemon=True)
        self._thread.start()

    @one_at_a_time
    def stop(self) -> None:
        """Stop after the sample at work; nothing that is finished is lost."""
        if self.state == RUNNING:
            self._halt.set()
            self.state = STOPPING
            self._show()

    def wait(self, timeout_s: float | None = None) -> StudyResult | None:
        """Wait for the end of the run and give its result; None where it was stopped, failed, or is not done in time."""
        if self._thread is not None:
            self._thread.join(timeout_s)
        return self.result

    def seconds_left(self) -> float | None:
        """Time left by the pace of the samples so far; None until one is finished."""
        if self._first is None:
            return None
        since, before = self._first
        if self.done <= before:
            return None
        return (time.monotonic() - since) / (self.done - before) * (self.total - self.done)

    def _run(self) -> None:
        try:
            self.result = run_study(self.path, progress=self._progress, **self._options)
            self.state = FINISHED
        except _StoppedByHand:
            self.state = STOPPED
        except BaseException as error:  # told on the status line: in a thread nobody else would hear of it
            self.state, self.error = FAILED, error
        self._show()

    def _progress(self, done: int, total: int, what: str) -> None:
        self.done, self.total, self.doing = done, total, what
        if done >= 1 and self._first is None:
            self._first = (time.monotonic(), done)
        self._show()
        if self._halt.is_set() and done < total:
            raise _StoppedByHand

    def _make_controls(self) -> None:
        self._status = StatusLine()
        self._start = button("Start", self.start, self._status, hint="Run the study, or go on with it")
        self._stop = button(
            "Stop", self.stop, self._status, hint="Stop after the sample at work; finished samples stand"
        )
        self._report = button("Write the report", self._write_report, self._status)
        self._bar = ipw.IntProgress(min=0, max=1, value=0, layout=ipw.Layout(width="320px"))
        self._bar.description = "Progress"
        self._verdicts = ipw.HTML()
        self.view = ipw.VBox(
            [row([self._start, self._stop, self._report, self._bar]), self._status.box, self._verdicts]
        )

    def _write_report(self) -> None:
        from sievelight.report import write_report

        if self.result is None:
            raise input_error("there is no result to report.", "Start the study and let it finish.")
        self._status.say(f"{self._words()}\nReport: {write_report(self.result)}")

    def _words(self) -> str:
        steps = f"{self.done} of {self.total} steps"
        if self.state == READY:
            return f"{self.path.name} is ready to run. Samples that stand from an earlier run are not done again."
        if self.state in (RUNNING, STOPPING):
            left = self.seconds_left()
            about = f", about {timedelta(seconds=round(left))} left" if left is not None else ""
            if self.state == STOPPING:
                return f"Stopping after the sample at work ({steps}): finished samples stand."
            return f"Running: {steps}, now {self.doing}{about}." if self.total else f"Running: {self.doing}."
        if self.state == STOPPED:
            return f"Stopped after {steps}. Finished samples stand; Start goes on from them."
        if self.state == FAILED:
            known = isinstance(self.error, SIEVELIGHT_ERRORS)
            return f"Failed: {self.error if known else repr(self.error)}"
        r = self.result
        assert r is not None
        found = [f.severity for f in r.findings]
        counts = [f"{found.count(s)} {s}{'s' * (found.count(s) != 1)}" for s in ("error", "warning", "note")]
        return f"Finished: {len(r.samples)} samples, {len(r.redone)} of them computed in this run; {', '.join(counts)}."

    @one_at_a_time
    def _show(self) -> None:
        running = self.state in (RUNNING, STOPPING)
        self._start.disabled, self._stop.disabled = running, self.state != RUNNING
        self._report.disabled = self.state != FINISHED
        self._start.description = (
            "Go on" if self.state == STOPPED else "Run again" if self.state in (FINISHED, FAILED) else "Start"
        )
        self._bar.max, self._bar.value = max(self.total, 1), self.done
        self._bar.bar_style = {FINISHED: "success", FAILED: "danger", STOPPED: "warning"}.get(self.state, "")
        self._status.say(self._words(), wrong=self.state == FAILED)
        self._verdicts.value = "" if self.result is None else _verdicts(self.result)


def _verdicts(result: StudyResult) -> str:
    """What the comparison of batches says, a line a pair."""
    if result.comparison is None or not result.comparison.pairs:
        return ""
    c = result.comparison
    lines = [
        f"<li>{html.escape(p.batch)} against {html.escape(c.reference)}: <b>{html.escape(p.verdict)}</b> "
        f"({html.escape(result.quantity)}, margin {c.margin_percent:g} %)</li>"
        for p in c.pairs
    ]
    return f"<ul>{''.join(lines)}</ul>"
