# SPDX-License-Identifier: GPL-3.0-or-later
"""An ordered sample in a study: lattice, pore and wall in the summary, no sizes of spheres, and the finding that says so."""

import csv

import numpy as np
import pytest
from study_tools import said, sample

from sievelight import curve as curves
from sievelight.report import write_report
from sievelight.study import run_study


def test_lattice_pore_and_wall_instead_of_sizes(tmp_path):
    q = np.geomspace(0.3, 3.0, 240)
    smooth = 2 * q**-3.0 + 0.05
    truth = smooth.copy()
    for at, height in zip(0.725519746 * np.array([1, np.sqrt(3), 2]), (8, 3, 3)):
        truth += height * np.interp(at, q, smooth) * np.exp(-0.5 * ((q - at) / 0.02) ** 2)
    for name, intensity in (("ordered", truth), ("plain", 40 * np.exp(-((q * 4) ** 2) / 5) + smooth * 0.01 + 0.05)):
        u = 0.02 * intensity
        noisy = intensity + u * np.random.default_rng(4).standard_normal(q.size)
        curves.write_nxcansas(
            tmp_path / f"{name}.h5", curves.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm"), title=name
        )
    # phi = rho V / (1 + rho V) = 0.5: the pore of a = 10 nm is 7.425 nm wide, the wall 2.575 nm.
    (tmp_path / "measurements.csv").write_text(
        "name,role,batch,file,pore_volume_cm3_per_g,skeletal_density_g_per_cm3\n"
        f"ordered,curve,one,ordered.h5,{1 / 2.2},2.2\nplain,curve,two,plain.h5,,\n"
    )
    (tmp_path / "study.toml").write_text('[distribution]\nmethod = "evidence"\nwhat_if = "none"\nsymmetry = "p6mm"\n')
    result = run_study(tmp_path / "study.toml")
    one, two = sample(result, "ordered"), sample(result, "plain")
    assert one.size is None and two.size is not None and "lattice_nm" not in two.summary
    lattice, pore, wall = (one.summary[k] for k in ("lattice_nm", "ordered_pore_nm", "wall_nm"))
    assert lattice.value == pytest.approx(10, abs=4 * lattice.u)
    assert pore.value == pytest.approx(7.425, abs=4 * pore.u) and wall.value == pytest.approx(2.575, abs=4 * wall.u)
    assert "carry this curve" in said(result, "ordered") and "p6mm" in said(result, "ordered")
    with open(tmp_path / "results" / "summary.csv", newline="") as file:
        row = next(csv.DictReader(file))
    assert float(row["lattice_nm"]) == lattice.value and row["x50_nm"] == ""
    assert "lattice parameter" in write_report(result).read_text(encoding="utf-8")
    assert run_study(tmp_path / "study.toml").redone == []
