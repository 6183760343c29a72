# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: each command is a thin layer over the Python call of the same name.

Results go to standard output, progress and messages to standard error. Exit codes: 0 done, 1 some measurements failed,
2 the call or the study was wrong; 130 stopped by Ctrl-C, 143 by SIGTERM, 129 by a terminal that was closed.
"""

from sievelight.cli import files, reduce, study  # noqa: F401 - they register their commands
from sievelight.cli.app import app, main

__all__ = ["app", "main"]
