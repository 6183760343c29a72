# SPDX-License-Identifier: GPL-3.0-or-later
"""The application that the commands register with, and its entry point."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from sievelight.cli.show import STOPPED
from sievelight.errors import SIEVELIGHT_ERRORS

app = typer.Typer(
    name="sievelight",
    add_completion=True,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From small-angle X-ray detector frames to pore-size distributions with honest uncertainties.",
)

StudyPath = Annotated[Path, typer.Argument(help="The study file, e.g. study.toml.", show_default=False)]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON for scripts.")]


def _version(show: bool) -> None:
    if show:
        from sievelight import __version__

        typer.echo(f"sievelight {__version__}")
        raise typer.Exit()


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """From small-angle X-ray detector frames to pore-size distributions with honest uncertainties."""


def main() -> None:
    """Entry point: turn our own errors into a message and exit code 2, never a traceback."""
    try:
        app()
    except SIEVELIGHT_ERRORS as error:
        typer.echo(f"error: {error}", err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        typer.echo(STOPPED, err=True)
        sys.exit(130)
