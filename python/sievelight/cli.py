# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: each command is a thin layer over the Python call of the same name.

Results go to standard output, progress and messages to standard error. Exit codes: 0 done, 1 some measurements failed,
2 the call or the study was wrong.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Annotated, Any

import typer

from sievelight.errors import SIEVELIGHT_ERRORS, data_error, input_error
from sievelight.text_files import without_controls

app = typer.Typer(
    name="sievelight",
    add_completion=True,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From small-angle X-ray detector frames to pore-size distributions with honest uncertainties.",
)

StudyPath = Annotated[Path, typer.Argument(help="The study file, e.g. study.toml.", show_default=False)]
STOPPED = "stopped; no file is left half written, and a study goes on from its finished samples at its next run"
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON for scripts.")]


def _version(show: bool) -> None:
    if show:
        from sievelight import __version__

        _say(f"sievelight {__version__}")
        raise typer.Exit()


def _say(text: str, *, err: bool = False) -> None:
    """Print a line without the control characters that a name or a file may hold: a terminal would obey them."""
    typer.echo(without_controls(text), err=err)


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """From small-angle X-ray detector frames to pore-size distributions with honest uncertainties."""


def _crew(workers: int | None, cluster: str | None) -> Any:
    """Who does the samples, for a `with`: a cluster, or processes on this machine."""
    from contextlib import nullcontext

    from sievelight.study import LocalCrew, cluster_crew

    if workers is not None and cluster is not None:
        raise input_error(
            "both --workers and --cluster are given.", "A cluster brings its own workers: leave one away."
        )
    return cluster_crew(cluster) if cluster is not None else nullcontext(LocalCrew(workers))


def _run_with_progress(path: Path, workers: int | None = None, cluster: str | None = None) -> Any:
    """Run a study and write its report, with a progress bar on standard error."""
    from sievelight.report import write_report
    from sievelight.study import run_study

    with _progress() as show, _crew(workers, cluster) as crew:
        result = run_study(path, executor=crew, progress=show)
        show(None, None, "writing the report")
        write_report(result)
    return result


@contextmanager
def _progress() -> Iterator[Any]:
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
                console.print(f"[{done}/{total}] {what}{about}", markup=False, highlight=False)

        try:
            yield show
        except KeyboardInterrupt:
            _say(STOPPED, err=True)
            raise typer.Exit(130) from None


def _tell(result: Any, as_json: bool) -> None:
    from sievelight.report.words import answer

    if as_json:
        pairs = result.comparison.pairs if result.comparison else []
        _say(
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
        _say(line)
    for f in result.findings:
        _say(f"{f.severity}: {f.measurement}: {f.finding}" + (f" {f.mend}" if f.mend else ""), err=True)
    _say(f"Report: {result.report}")


@app.command()
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
    as_json: AsJson = False,
) -> None:
    """Run a study: frames to curves, sizes, batches and a report. A second call redoes only what changed."""
    result = _run_with_progress(study, workers, cluster)
    _tell(result, as_json)
    raise typer.Exit(1 if result.failed else 0)


@app.command()
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

    with _progress() as show, _crew(workers, None) as crew:
        done = check_record(record, study=study, executor=crew, progress=show)
    if as_json:
        _say(json.dumps({"reproduced": done.reproduced, **done.__dict__}))
    else:
        for line in done.lines():
            _say(line)
    raise typer.Exit(0 if done.reproduced else 1)


@app.command()
def plan(
    study: StudyPath,
    follow: Annotated[bool, typer.Option("--follow", help="Read frames as they arrive; say when to stop.")] = False,
    row: Annotated[str | None, typer.Option(help="With --follow: the sample's row. Default: the last.")] = None,
    poll_s: Annotated[float, typer.Option(help="With --follow: seconds between looks for frames.")] = 2.0,
    as_json: AsJson = False,
) -> None:
    """Say beforehand how long to expose each sample and its background, and in which configuration."""
    from sievelight.study import follow_study, plan_study

    def tell(what: str) -> None:
        _say(what, err=True)

    done = follow_study(study, name=row, poll_s=poll_s, tell=tell) if follow else plan_study(study, progress=tell)
    if as_json:
        _say(json.dumps(done.to_dict()))
        return
    for line in done.lines():
        _say(line)


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="The demo's folder, with make_frames.py and study.toml.")] = Path(
        "demo-data"
    ),
    as_json: AsJson = False,
) -> None:
    """Make the demo's invented frames where they are missing or older than their generator, then run its study."""
    maker = folder / "make_frames.py"
    if not maker.exists():
        raise data_error(f"There is no demo in '{folder}'.", "Give the path of the project's demo-data folder.")
    made = folder / "measurements.csv"
    sources = [*folder.glob("*.py"), *folder.glob("glassy_carbon.csv")]
    if not made.exists() or any(source.stat().st_mtime > made.stat().st_mtime for source in sources):
        done = subprocess.run([sys.executable, str(maker), "--out", str(folder)], stdout=sys.stderr)
        if done.returncode:
            raise data_error("The demo's frames could not be made.", "See the message above.")
    result = _run_with_progress(folder / "study.toml")
    _tell(result, as_json)
    raise typer.Exit(1 if result.failed else 0)


@app.command()
def inspect(
    files: Annotated[list[Path], typer.Argument(help="Files of frames, curves or masks, or study files.")],
    picture: Annotated[Path | None, typer.Option(help="Write a picture of the (one) file here, e.g. out.png.")] = None,
    dataset: Annotated[str | None, typer.Option(help="Where the frames stand in an HDF5 file.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over an existing picture.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say what files hold and how they were understood: frames, curves, masks, studies."""
    from sievelight.inspect import inspect_file

    if picture is not None and len(files) != 1:
        raise input_error(f"--picture is given with {len(files)} files.", "Give one file with it.")
    if picture is not None and picture.exists() and not force:
        raise input_error(f"'{picture}' exists.", "Choose another name, or give --force to write over it.")
    seen, failed = [], 0
    for file in files:
        try:
            found = inspect_file(file, dataset=dataset)
        except SIEVELIGHT_ERRORS as error:
            _say(f"error: {error}", err=True)
            failed += 1
            continue
        seen.append(found)
        if not as_json:
            _show_inspected(found)
    if as_json:
        _say(json.dumps([found.to_dict() for found in seen]))
    if picture is not None and seen:
        _write_picture(seen[0], picture)
    raise typer.Exit(0 if not failed else 1 if seen else 2)


def _show_inspected(found: Any) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console()
    table = Table(title=Text(f"{found.path}: {found.kind}"), show_header=False, title_justify="left")
    table.add_column("what", style="bold", no_wrap=True)
    table.add_column("value", overflow="fold")
    for name, value in [*found.rows, *(("note", note) for note in found.notes)]:
        table.add_row(Text(name), Text(value))
    console.print(table)


def _write_picture(found: Any, picture: Path) -> None:
    import matplotlib

    matplotlib.use("agg")
    import matplotlib.pyplot as plt

    from sievelight.plot import STYLE

    with plt.rc_context(STYLE):
        ax = found.plot()
        ax.figure.savefig(picture, dpi=160)
        plt.close(ax.figure)
    _say(f"Picture: {picture}", err=True)


def _numbers(text: str, option: str, count: int) -> list[float]:
    """Numbers parted by commas; an InputError names the option."""
    try:
        values = [float(part) for part in text.split(",")]
    except ValueError:
        values = []
    if len(values) not in {1, count} or (count == 2 and option == "--beam-center-px" and len(values) != 2):
        raise input_error(f"{option} is '{text}'.", f"Give {count} numbers parted by a comma, e.g. 251.1,298.4.")
    return values * count if len(values) == 1 else values


@app.command()
def calibrate(
    file: Annotated[Path, typer.Argument(help="A file of frames of the calibrant.", show_default=False)],
    material: Annotated[str, typer.Option(help="The calibrant.")] = "silver behenate",
    wavelength_nm: Annotated[float | None, typer.Option(help="Default: what the file says.")] = None,
    pixel_size_mm: Annotated[str | None, typer.Option(help="Side, or width,height. Default: the file.")] = None,
    distance_mm: Annotated[float | None, typer.Option(help="Where known within 20 %.")] = None,
    beam_center_px: Annotated[str | None, typer.Option(help="column,row where known within 25 px.")] = None,
    tilt: Annotated[bool, typer.Option("--tilt", help="Refine pitch and yaw.")] = False,
    frames: Annotated[str | None, typer.Option(help="Frames to sum, e.g. 0,3,5-9. Default: all.")] = None,
    mask: Annotated[Path | None, typer.Option(help="File of a mask.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Write a picture of rings and residuals here.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over an existing picture.")] = False,
    as_json: AsJson = False,
) -> None:
    """Find distance, beam centre and tilt from a calibrant's rings, and print the lines for a study."""
    from sievelight.calibrate import calibrate as call

    if picture is not None and picture.exists() and not force:
        raise input_error(f"'{picture}' exists.", "Choose another name, or give --force to write over it.")
    size = _numbers(pixel_size_mm, "--pixel-size-mm", 2) if pixel_size_mm else None
    center = _numbers(beam_center_px, "--beam-center-px", 2) if beam_center_px else None
    done = call(
        file,
        material=material,
        frames=_frame_list(frames) if frames else None,
        mask=mask,
        wavelength_nm=wavelength_nm,
        pixel_size_mm=(size[0], size[1]) if size else None,
        distance_mm=distance_mm,
        beam_center_px=(center[0], center[1]) if center else None,
        tilt=tilt,
    )
    if picture is not None:
        import matplotlib

        matplotlib.use("agg")
        done.save_picture(picture)
    if as_json:
        _say(json.dumps(done.values()))
        return
    for line in done.lines():
        _say(f"# {line}")
    for note in done.notes:
        _say(f"note: {note}", err=True)
    for warning in done.warnings:
        _say(f"warning: {warning}", err=True)
    _say(done.toml)


@app.command()
def reduce(
    files: Annotated[list[Path], typer.Argument(help="Frames of one sample; several files are repeats.")],
    instrument: Annotated[
        Path | None,
        typer.Option(help="TOML file with [instrument] and what else a study may say; as calibrate prints it."),
    ] = None,
    background: Annotated[Path | None, typer.Option(help="Frames of the empty cell.")] = None,
    dark: Annotated[Path | None, typer.Option(help="Frames without beam.")] = None,
    empty_beam: Annotated[
        Path | None, typer.Option(help="Frames of the empty beam, the standard's background.")
    ] = None,
    standard: Annotated[Path | None, typer.Option(help="Frames of the intensity standard.")] = None,
    calibrant: Annotated[Path | None, typer.Option(help="Frames of the calibrant.")] = None,
    mask: Annotated[Path | None, typer.Option(help="File of a mask.")] = None,
    transmission: Annotated[str | None, typer.Option(help="Of the sample with its cell: value or value,u.")] = None,
    background_transmission: Annotated[str | None, typer.Option(help="Of the empty cell: value or value,u.")] = None,
    background_scale: Annotated[str | None, typer.Option(help="Factor on the background: value or value,u.")] = None,
    thickness_mm: Annotated[str | None, typer.Option(help="Of the sample: value or value,u.")] = None,
    composition: Annotated[str | None, typer.Option(help="Of a powder without thickness, e.g. SiO2.")] = None,
    standard_material: Annotated[str, typer.Option(help="glassy carbon or water.")] = "glassy carbon",
    standard_transmission: Annotated[str | None, typer.Option(help="value or value,u.")] = None,
    standard_thickness_mm: Annotated[str, typer.Option(help="value or value,u.")] = "1.055,0.01",
    standard_temperature_c: Annotated[
        float | None, typer.Option("--standard-temperature-C", help="Of water, as the standard.")
    ] = None,
    calibrant_material: Annotated[str, typer.Option(help="The calibrant.")] = "silver behenate",
    direct_beam: Annotated[Path | None, typer.Option(help="Attenuated direct beam through the sample.")] = None,
    empty_direct_beam: Annotated[Path | None, typer.Option(help="The same through nothing.")] = None,
    background_direct_beam: Annotated[Path | None, typer.Option(help="The same through the empty cell.")] = None,
    attenuator_transmission: Annotated[str | None, typer.Option(help="Of all of these: value or value,u.")] = None,
    beam_radius_px: Annotated[float | None, typer.Option(help="Within it a photon counts as transmitted.")] = None,
    frames: Annotated[str, typer.Option(help="Exposures to use, e.g. 0,3,5-9. Default: all.")] = "",
    exposure_s: Annotated[float | None, typer.Option(help="Seconds of one exposure, where the file is silent.")] = None,
    output: Annotated[Path | None, typer.Option(help="Write the curve: NXcanSAS, or CSV by its suffix.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Write a picture of the curve here.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over existing files.")] = False,
    as_json: AsJson = False,
) -> None:
    """Reduce the frames of one sample to a curve, without a study."""
    from sievelight.reduce_file import reduce_file, refuse_existing, refuse_format

    read = (instrument, background, dark, empty_beam, standard, calibrant, mask)
    beams = (direct_beam, empty_direct_beam, background_direct_beam)
    inputs = frozenset(p.resolve() for p in (*files, *read, *beams) if p is not None)
    for target in (output, picture):
        if target is not None:
            refuse_existing(target, force, inputs=inputs)
    if picture is not None:
        refuse_format(picture)
    done = reduce_file(
        files,
        instrument=instrument,
        background=background,
        dark=dark,
        empty_beam=empty_beam,
        standard=standard,
        calibrant=calibrant,
        mask=mask,
        frames=frames,
        transmission=_value(transmission, "--transmission"),
        background_transmission=_value(background_transmission, "--background-transmission"),
        background_scale=_value(background_scale, "--background-scale"),
        thickness_mm=_value(thickness_mm, "--thickness-mm"),
        composition=composition,
        standard_material=standard_material,
        standard_transmission=_value(standard_transmission, "--standard-transmission"),
        standard_thickness_mm=_value(standard_thickness_mm, "--standard-thickness-mm") or 1.055,
        standard_temperature_C=standard_temperature_c,
        calibrant_material=calibrant_material,
        direct_beam=direct_beam,
        empty_direct_beam=empty_direct_beam,
        background_direct_beam=background_direct_beam,
        attenuator_transmission=_value(attenuator_transmission, "--attenuator-transmission"),
        beam_radius_px=beam_radius_px,
        exposure_s=exposure_s,
        progress=lambda what: _say(what, err=True),
    )
    for f in done.findings:
        _say(f"{f.severity}: {f.measurement}: {f.finding}" + (f" {f.mend}" if f.mend else ""), err=True)
    if output is not None:
        done.save(output, force=force)
        _say(f"Curve: {output}", err=True)
    if picture is not None:
        import matplotlib

        matplotlib.use("agg")
        done.save_picture(picture, force=force)
        _say(f"Picture: {picture}", err=True)
    if as_json:
        _say(json.dumps(done.values()))
        return
    for line in done.lines():
        _say(line)


def _value(text: str | None, option: str) -> tuple[float, float] | None:
    """A number, or a number and its standard uncertainty parted by a comma."""
    if text is None:
        return None
    try:
        parts = [float(part) for part in text.split(",")]
    except ValueError:
        parts = []
    if len(parts) not in (1, 2):
        raise input_error(f"{option} is '{text}'.", "Give a number, or a number and its uncertainty, e.g. 0.81,0.002.")
    return parts[0], parts[1] if len(parts) == 2 else 0.0


def _frame_list(text: str) -> list[int]:
    """0,3,5-9 as a list of frames."""
    frames: list[int] = []
    for part in text.split(","):
        low, _, high = part.strip().partition("-")
        if not low.isdigit() or (high and not high.isdigit()):
            raise input_error(f"--frames is '{text}'.", "Give numbers from 0 and ranges, e.g. 0,3,5-9.")
        frames += range(int(low), int(high or low) + 1)
    return frames


def main() -> None:
    """Entry point: turn our own errors into a message and exit code 2, never a traceback."""
    try:
        app()
    except SIEVELIGHT_ERRORS as error:
        _say(f"error: {error}", err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        _say(STOPPED, err=True)
        sys.exit(130)
