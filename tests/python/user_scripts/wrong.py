# SPDX-License-Identifier: GPL-3.0-or-later
"""Slips that a type checker must catch before a long run does: each such line names mypy's code for it."""

from pathlib import Path

import sievelight as sl


def slips(curve: sl.Curve, path: Path) -> None:
    guinier = sl.fit_guinier(curve, qrg_max=1.3)  # wrong: call-arg
    print(guinier.radius_nm)  # wrong: attr-defined
    sl.fit_porod(curve, walls="soft")  # wrong: arg-type
    sl.invariant(curve, guinier=guinier)  # wrong: call-arg
    size = sl.invert(curve, method="evidnce")  # wrong: arg-type
    median: float = size.x50_nm  # wrong: assignment
    print(median, size.x50_nm.value)
    result = sl.run_study(path, workers=4)  # wrong: call-arg
    print(result.comparison.pairs)  # wrong: union-attr
    print(result.sampels)  # wrong: attr-defined
    sl.invrt(curve)  # wrong: attr-defined
