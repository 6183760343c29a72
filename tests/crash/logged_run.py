# SPDX-License-Identifier: GPL-3.0-or-later
"""The command, with every row that is begun appended to the file $BEGUN_LOG by whoever begins it."""

import os

from sievelight import cli
from sievelight.study import task


def logged(real, name_of):
    def call(*args, **options):
        file = os.open(os.environ["BEGUN_LOG"], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        os.write(file, f"{name_of(*args)}\n".encode())
        os.close(file)
        return real(*args, **options)

    return call


# Workers import this file too, under another name, before they do anything.
task.one.process = logged(task.one.process, lambda shared, m, *rest: m.name)
task.process_curve = logged(task.process_curve, lambda settings, folder, m, *rest: m.name)

if __name__ == "__main__":
    cli.main()
