# SPDX-License-Identifier: GPL-3.0-or-later
"""Commands on single files: what they hold, and the geometry from a calibrant's rings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from sievelight.cli.app import AsJson, app
from sievelight.cli.examples import EXAMPLES
from sievelight.cli.parse import frame_list, numbers
from sievelight.cli.show import say, show_inspected, write_picture
from sievelight.errors import SIEVELIGHT_ERRORS, input_error


@app.command(epilog=EXAMPLES["inspect"])
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
            say(f"error: {error}", err=True)
            failed += 1
            continue
        seen.append(found)
        if not as_json:
            show_inspected(found)
    if as_json:
        say(json.dumps([found.to_dict() for found in seen]))
    if picture is not None and seen:
        write_picture(seen[0], picture)
    raise typer.Exit(0 if not failed else 1 if seen else 2)


@app.command(epilog=EXAMPLES["calibrate"])
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
    from sievelight.calibration import calibrate as call

    if picture is not None and picture.exists() and not force:
        raise input_error(f"'{picture}' exists.", "Choose another name, or give --force to write over it.")
    size = numbers(pixel_size_mm, "--pixel-size-mm", 2) if pixel_size_mm else None
    center = numbers(beam_center_px, "--beam-center-px", 2) if beam_center_px else None
    done = call(
        file,
        material=material,
        frames=frame_list(frames) if frames else None,
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
        say(json.dumps(done.values()))
        return
    for line in done.lines():
        say(f"# {line}")
    for note in done.notes:
        say(f"note: {note}", err=True)
    for warning in done.warnings:
        say(f"warning: {warning}", err=True)
    say(done.toml)
