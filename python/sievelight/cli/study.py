# SPDX-License-Identifier: GPL-3.0-or-later
"""Commands on a whole study: run it, check its record, plan it, and the demo."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from sievelight.cli.app import AsJson, StudyPath, app
from sievelight.cli.examples import EXAMPLES
from sievelight.cli.show import progress, say, tell, write_picture
from sievelight.errors import data_error, input_error


def make_crew(workers: int | None, cluster: str | None) -> Any:
    """Who does the samples, for a `with`: a cluster, or processes on this machine."""
    from contextlib import nullcontext

    from sievelight.study import LocalCrew, cluster_crew

    if workers is not None and cluster is not None:
        raise input_error(
            "both --workers and --cluster are given.", "A cluster brings its own workers: leave one away."
        )
    return cluster_crew(cluster) if cluster is not None else nullcontext(LocalCrew(workers))


def run_with_progress(
    path: Path, workers: int | None = None, cluster: str | None = None, *, figures: bool = False
) -> Any:
    """Run a study and write its report, with a progress bar on standard error."""
    from sievelight.report import write_report
    from sievelight.study import run_study

    with progress() as show, make_crew(workers, cluster) as crew:
        result = run_study(path, executor=crew, progress=show)
        show(None, None, "writing the report")
        write_report(result, figures=result.output / "figures" if figures else None)
    return result


@app.command(epilog=EXAMPLES["run"])
def run(
    study: StudyPath,
    workers: Annotated[
        int | None,
        typer.Option(min=1, help="Processes that share the samples. Default: one a core.", show_default=False),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(help="Dask scheduler whose workers share the samples, e.g. tcp://host:8786.", show_default=False),
    ] = None,
    figures: Annotated[
        bool, typer.Option("--figures", help="Also save the report's pictures as SVG files, in figures beside it.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Run a study: frames to curves, sizes, batches and a report. A second call redoes only what changed."""
    result = run_with_progress(study, workers, cluster, figures=figures)
    tell(result, as_json)
    raise typer.Exit(1 if result.failed else 0)


@app.command(epilog=EXAMPLES["check"])
def check(
    record: Annotated[Path, typer.Argument(help="The record.json of a study's results.", show_default=False)],
    study: Annotated[
        Path | None, typer.Option(help="Its study file, where the record was moved away from it.", show_default=False)
    ] = None,
    workers: Annotated[int | None, typer.Option(min=1, help="As in run.", show_default=False)] = None,
    as_json: AsJson = False,
) -> None:
    """Say which inputs changed since a record was made, and whether its numbers come out again bit for bit."""
    from sievelight.study import check_record

    with progress() as show, make_crew(workers, None) as crew:
        done = check_record(record, study=study, executor=crew, progress=show)
    if as_json:
        say(json.dumps({"reproduced": done.reproduced, **done.__dict__}))
    else:
        for line in done.lines():
            say(line)
    raise typer.Exit(0 if done.reproduced else 1)


@app.command(epilog=EXAMPLES["plan"])
def plan(
    study: StudyPath,
    follow: Annotated[bool, typer.Option("--follow", help="Read frames as they arrive; say when to stop.")] = False,
    row: Annotated[str | None, typer.Option(help="With --follow: the sample's row. Default: the last.")] = None,
    poll_s: Annotated[float, typer.Option(help="With --follow: seconds between looks for frames.")] = 2.0,
    picture: Annotated[
        Path | None, typer.Option(help="Write uncertainty against exposure here, e.g. plan.svg.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over an existing picture.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say beforehand how long to expose each sample and its background, and in which configuration."""
    from sievelight.study import follow_study, plan_study

    if picture is not None and follow:
        raise input_error("--picture is given with --follow.", "A plan has a picture; frames that arrive have none.")
    if picture is not None and picture.exists() and not force:
        raise input_error(f"'{picture}' exists.", "Choose another name, or give --force to write over it.")

    def tell(what: str) -> None:
        say(what, err=True)

    done = follow_study(study, name=row, poll_s=poll_s, tell=tell) if follow else plan_study(study, progress=tell)
    if picture is not None:
        write_picture(done, picture)
    if as_json:
        say(json.dumps(done.to_dict()))
        return
    for line in done.lines():
        say(line)


@app.command(epilog=EXAMPLES["demo"])
def demo(
    folder: Annotated[Path, typer.Argument(help="The demo's folder, with make_frames.py and study.toml.")] = Path(
        "demo-data"
    ),
    as_json: AsJson = False,
) -> None:
    """Make the demo's invented frames where they are missing or of another generator, then run its study."""
    from sievelight.files import sha256, write_text

    maker = folder / "make_frames.py"
    if not maker.exists():
        raise data_error(f"There is no demo in '{folder}'.", "Give the path of the project's demo-data folder.")
    # By content, not by time: a clock may jump, and a run that was killed half way has left no such file.
    made_from = folder / "frames" / "made_from.txt"
    sources = sorted([*folder.glob("*.py"), *folder.glob("glassy_carbon.csv")])
    now = "".join(f"{sha256(source)}  {source.name}\n" for source in sources)
    if not (folder / "measurements.csv").exists() or not made_from.exists() or made_from.read_text() != now:
        done = subprocess.run([sys.executable, str(maker), "--out", str(folder)], stdout=sys.stderr)
        if done.returncode:
            raise data_error("The demo's frames could not be made.", "See the message above.")
        write_text(made_from, now)
    result = run_with_progress(folder / "study.toml")
    tell(result, as_json)
    raise typer.Exit(1 if result.failed else 0)
