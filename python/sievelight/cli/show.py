# SPDX-License-Identifier: GPL-3.0-or-later
"""What the commands show: progress on standard error, answers and tables on standard output."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import typer

from sievelight.text_files import without_controls

STOPPED = "stopped; no file is left half written, and a study goes on from its finished samples at its next run"


def say(text: str, *, err: bool = False) -> None:
    """Print a line without the control characters that a name or a file may hold: a terminal would obey them."""
    typer.echo(without_controls(text), err=err)


@contextmanager
def progress() -> Iterator[Any]:
    """A bar on a terminal, lines in a log, both with the time left; called as (done, total, what)."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    console = Console(stderr=True)
    columns = (
        TextColumn("{task.description:<34}", markup=False),  # names may hold brackets
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    # The estimate looks back over an hour: samples take minutes each where bands are sampled.
    with Progress(*columns, console=console, speed_estimate_period=3600) as bar:
        task = bar.add_task("reading the study", total=None)

        def show(done: int | None, total: int | None, what: str) -> None:
            bar.update(task, completed=done, total=total, description=what)  # None: as it was
            if not console.is_terminal:
                done, total = int(bar.tasks[0].completed), int(bar.tasks[0].total or 0)
                left = bar.tasks[0].time_remaining
                about = f", about {timedelta(seconds=int(left))} left" if left else ""
                console.print(without_controls(f"[{done}/{total}] {what}{about}"), markup=False, highlight=False)

        yield show


def tell(result: Any, as_json: bool) -> None:
    from sievelight.report.words import answer

    if as_json:
        pairs = result.comparison.pairs if result.comparison else []
        say(
            json.dumps(
                {
                    "report": str(result.report),
                    "samples": [s.name for s in result.samples],
                    "failed": result.failed,
                    "verdicts": {p.batch: p.verdict for p in pairs},
                    "findings": [f.__dict__ for f in result.findings],
                }
            )
        )
        return
    for line in answer(result):
        say(line)
    for f in result.findings:
        say(f"{f.severity}: {f.measurement}: {f.finding}" + (f" {f.mend}" if f.mend else ""), err=True)
    say(f"Report: {result.report}")


def show_inspected(found: Any) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console()
    table = Table(title=Text(without_controls(f"{found.path}: {found.kind}")), show_header=False, title_justify="left")
    table.add_column("what", style="bold", no_wrap=True)
    table.add_column("value", overflow="fold")
    for name, value in [*found.rows, *(("note", note) for note in found.notes)]:
        table.add_row(Text(name), Text(without_controls(value)))
    console.print(table)
    for line in _small_picture(found, console):
        console.print(line, no_wrap=True, highlight=False)


def _small_picture(found: Any, console: Any) -> list[Any]:
    """A frame, mask or curve in characters, as wide as the terminal leaves room for; nothing for a study."""
    from sievelight.cli.picture import curve_picture, frame_picture

    width = max(20, min(64, console.width - 12))
    if found.kind == "frames" and min(found.frame.counts.shape) > 1:
        return frame_picture(
            found.frame.counts, found.frame.masked, width=width, color=console.color_system is not None
        )
    if found.kind == "frames":
        counts = found.frame.counts.ravel()
        return curve_picture(range(counts.size), counts, width=width, log_x=False)
    if found.kind == "mask":
        return frame_picture(1.0 - found.mask, found.mask, width=width, color=console.color_system is not None)
    if found.kind == "curves":
        return curve_picture(found.curves[0].curve.q_per_nm, found.curves[0].curve.intensity, width=width)
    return []


def write_picture(found: Any, picture: Path) -> None:
    import matplotlib

    matplotlib.use("agg")
    import matplotlib.pyplot as plt

    from sievelight.files import write_figure
    from sievelight.plot import styled

    with styled():
        ax = found.plot()
        try:
            write_figure(picture, ax.figure)
        finally:
            plt.close(ax.figure)
    say(f"Picture: {picture}", err=True)
