# SPDX-License-Identifier: GPL-3.0-or-later
"""The application that the commands register with, and its entry point."""

from __future__ import annotations

import signal
import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from sievelight.cli.show import STOPPED, say
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

        say(f"sievelight {__version__}")
        raise typer.Exit()


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """From small-angle X-ray detector frames to pore-size distributions with honest uncertainties."""


class _Stopped(BaseException):
    """A signal asks to stop. No KeyboardInterrupt, which libraries on the way take for their own."""

    def __init__(self, number: int) -> None:
        self.code = 128 + number


def _stop(number: int, frame: object) -> None:
    raise _Stopped(number)


def main() -> None:
    """Entry point: turn our own errors into a message and exit code 2, never a traceback; stop in order when asked."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        if signal.getsignal(number) != signal.SIG_IGN:  # as nohup and background jobs of a shell have them
            signal.signal(number, _stop)
    try:
        app()
    except SIEVELIGHT_ERRORS as error:
        say(f"error: {error}", err=True)
        sys.exit(2)
    except _Stopped as stopped:
        with suppress(OSError):  # the terminal may be gone
            say(STOPPED, err=True)
        sys.exit(stopped.code)
