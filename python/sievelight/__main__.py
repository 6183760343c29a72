# SPDX-License-Identifier: GPL-3.0-or-later
"""`python -m sievelight` is the command `sievelight`."""

from sievelight.cli import main

main()
