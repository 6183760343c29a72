# SPDX-License-Identifier: GPL-3.0-or-later
"""The command that reduces the frames of one sample without a study."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from sievelight.cli.app import AsJson, app
from sievelight.cli.examples import EXAMPLES
from sievelight.cli.parse import value
from sievelight.cli.show import say


@app.command(epilog=EXAMPLES["reduce"])
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
    from sievelight.single_file import reduce_file, refuse_existing, refuse_format

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
        transmission=value(transmission, "--transmission"),
        background_transmission=value(background_transmission, "--background-transmission"),
        background_scale=value(background_scale, "--background-scale"),
        thickness_mm=value(thickness_mm, "--thickness-mm"),
        composition=composition,
        standard_material=standard_material,
        standard_transmission=value(standard_transmission, "--standard-transmission"),
        standard_thickness_mm=value(standard_thickness_mm, "--standard-thickness-mm") or 1.055,
        standard_temperature_C=standard_temperature_c,
        calibrant_material=calibrant_material,
        direct_beam=direct_beam,
        empty_direct_beam=empty_direct_beam,
        background_direct_beam=background_direct_beam,
        attenuator_transmission=value(attenuator_transmission, "--attenuator-transmission"),
        beam_radius_px=beam_radius_px,
        exposure_s=exposure_s,
        progress=lambda what: say(what, err=True),
    )
    for f in done.findings:
        say(f"{f.severity}: {f.measurement}: {f.finding}" + (f" {f.mend}" if f.mend else ""), err=True)
    if output is not None:
        done.save(output, force=force)
        say(f"Curve: {output}", err=True)
    if picture is not None:
        import matplotlib

        matplotlib.use("agg")
        done.save_picture(picture, force=force)
        say(f"Picture: {picture}", err=True)
    if as_json:
        say(json.dumps(done.values()))
        return
    for line in done.lines():
        say(line)
