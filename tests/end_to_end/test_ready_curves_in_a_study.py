# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows of role curve: reduced elsewhere, alone or beside frames, of one camera length or of two."""

import re

import numpy as np
import pytest
from study_tools import said, sample

from sievelight import curve as curves
from sievelight.study import run_study

STUDY = '[distribution]\nmethod = "evidence"\npower_law = false\ncontrast_per_cm2 = 1e11\n'


def spheres(q, diameter_nm=12.0, width=0.1):
    """Intensity of narrowly spread spheres with a flat background, arbitrary scale (form factor: Rayleigh 1911)."""
    d = diameter_nm * np.exp(width * np.linspace(-3, 3, 61))
    weight = np.exp(-0.5 * np.linspace(-3, 3, 61) ** 2) * d**6
    x = np.outer(q, d / 2)
    f = 3 * (np.sin(x) - x * np.cos(x)) / x**3
    return (f**2) @ weight / weight.sum() * 50 + 0.05


def curve(q, noise, scale=1.0, seed=1):
    truth = spheres(q)
    u = noise * truth + 1e-3
    edges = np.sqrt(q[:-1] * q[1:])
    edges = np.concatenate([[q[0] ** 2 / edges[0]], edges, [q[-1] ** 2 / edges[-1]]])
    values = scale * (truth + u * np.random.default_rng(seed).standard_normal(q.size))
    made = curves.Curve(q_per_nm=q, intensity=values, private_u=scale * u, unit="1/cm")
    made.q_low_per_nm, made.q_high_per_nm = edges[:-1], edges[1:]
    return made


def study_of(folder, rows, text=STUDY):
    (folder / "measurements.csv").write_text("\n".join(rows) + "\n")
    (folder / "study.toml").write_text(text)
    return run_study(folder / "study.toml")


def test_curves_of_every_format_become_results_without_a_frame(tmp_path):
    made = curve(np.geomspace(0.1, 2.5, 120), 0.02)
    curves.write_nxcansas(tmp_path / "a.h5", made, title="a")
    curves.write_csv(tmp_path / "b.csv", made)
    np.savetxt(tmp_path / "c.txt", np.column_stack([made.q_per_nm / 10, made.intensity, made.private_u]))
    result = study_of(
        tmp_path,
        ["name,role,batch,file", "a,curve,one,a.h5", "b,curve,one,b.csv", "c,curve,two,c.txt"],
        STUDY + '[curves]\nq_unit = "1/A"\nintensity_unit = "1/cm"\n',
    )
    assert [s.name for s in result.samples] == ["a", "b", "c"]
    for s in result.samples:
        x50 = s.quantity("x50")
        assert x50.value == pytest.approx(12.0, abs=3 * x50.u + 0.3)
        assert (tmp_path / "results" / "curves" / f"{s.name}.h5").exists()
    again = run_study(tmp_path / "study.toml")
    assert again.redone == []
    assert "nominal" not in " ".join(f.finding for f in result.findings)


def test_two_camera_lengths_of_one_name_are_merged_with_a_fitted_scale(tmp_path):
    curves.write_nxcansas(tmp_path / "long.h5", curve(np.geomspace(0.08, 0.9, 90), 0.01, seed=2), title="long")
    curves.write_nxcansas(tmp_path / "short.h5", curve(np.geomspace(0.4, 3.0, 90), 0.02, 1.08, seed=3), title="short")
    result = study_of(tmp_path, ["name,role,file", "a,curve,short.h5", "a,curve,long.h5"])
    merged = sample(result, "a")
    assert merged.curve.q_per_nm[0] < 0.09 and merged.curve.q_per_nm[-1] > 2.9
    words = said(result, "a", "note")
    scale, u = map(float, re.search(r"multiplied by (\S+) ± (\d\S*\d)", words).groups())
    assert scale == pytest.approx(1 / 1.08, abs=4 * u) and u < 0.01
    assert "merge scale: a" in merged.curve.causes


def test_curves_that_cannot_be_used_say_why(tmp_path):
    made = curve(np.geomspace(0.1, 2.5, 120), 0.02)
    curves.write_nxcansas(tmp_path / "two.h5", [curves.NamedCurve("x", made), curves.NamedCurve("y", made)])
    np.savetxt(tmp_path / "bare.txt", np.column_stack([made.q_per_nm, made.intensity]))
    np.savetxt(tmp_path / "nounits.txt", np.column_stack([made.q_per_nm, made.intensity, made.private_u]))
    (tmp_path / "noise.txt").write_bytes(bytes(range(256)) * 4)
    rows = [
        "name,role,file,dataset",
        "two,curve,two.h5,",
        "y,curve,two.h5,y",
        "z,curve,two.h5,z",
        "noise,curve,noise.txt,",
    ]
    result = study_of(tmp_path, [*rows, "units,curve,nounits.txt,", "missing,curve,none.h5,"])
    assert [s.name for s in result.samples] == ["y"]
    assert "holds 2 curves" in said(result, "two", "error") and "x/data, y/data" in said(result, "two", "error")
    assert "holds 0 curves 'z'" in said(result, "z", "error")
    assert "unit" in said(result, "units", "error")
    assert said(result, "noise", "error") and "none.h5" in said(result, "missing", "error")
    bare = study_of(
        tmp_path,
        ["name,role,file", "bare,curve,bare.txt"],
        STUDY + '[curves]\nq_unit = "1/nm"\nintensity_unit = "1/cm"\n',
    )
    assert "without an uncertainty" in said(bare, "bare", "error")


def test_a_curve_stands_beside_frames_in_one_study(study):
    folder, edit = study
    first = run_study(folder / "study.toml")
    edit("old", role="curve", batch="kiln 1", file="results/curves/k1-a.h5")
    result = run_study(folder / "study.toml")
    old, new = sample(result, "old"), sample(first, "k1-a")
    assert old.quantity("x50").value == pytest.approx(new.quantity("x50").value, rel=1e-6)
    assert set(old.curve.causes) == set(new.curve.causes)  # what both share still cancels
    assert [s.name for s in result.samples if s.name == "k1-a"] and result.redone == ["old"]


def test_the_shape_of_the_pores_is_the_studys_and_is_said_to_be_an_assumption(tmp_path):
    curves.write_csv(tmp_path / "a.csv", curve(np.geomspace(0.1, 2.5, 120), 0.02))
    rows = ["name,role,file", "a,curve,a.csv"]
    size = {}
    for name, more in (("sphere", ""), ("spheroid", 'shape = "spheroid"\naxis_ratio = 1.3\n')):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.csv").write_bytes((tmp_path / "a.csv").read_bytes())
        size[name] = sample(study_of(tmp_path / name, rows, STUDY + more), "a").size
    assert size["spheroid"].shape == "spheroid of axis ratio 1.3" and size["sphere"].shape == "sphere"
    assert "assumption" in size["sphere"].notes[0] and "equal volume" in size["spheroid"].notes[0]
    # Another shape is another size, by more than its band: the reason for the note.
    moved = abs(size["spheroid"].x50_nm.value - size["sphere"].x50_nm.value)
    assert size["sphere"].x50_nm.u < moved < 1.5


def test_interference_is_given_by_the_study(tmp_path):
    curves.write_csv(tmp_path / "a.csv", curve(np.geomspace(0.1, 2.5, 120), 0.02))
    more = "hard_sphere_fraction = 0.1\nhard_sphere_factor = 1.1\n"
    size = sample(study_of(tmp_path, ["name,role,file", "a,curve,a.csv"], STUDY + more), "a").size
    assert "volume fraction 0.1, radius 1.1" in " ".join(size.notes)


def test_a_curve_without_uncertainties_needs_a_declared_one_and_says_so(tmp_path):
    made = curve(np.geomspace(0.1, 2.5, 120), 0.02)
    np.savetxt(tmp_path / "c.txt", np.column_stack([made.q_per_nm, made.intensity]))
    units = '[curves]\nq_unit = "1/nm"\nintensity_unit = "1/cm"\n'
    refused = study_of(tmp_path, ["name,role,batch,file", "c,curve,one,c.txt"], STUDY + units)
    assert refused.failed == ["c"] and "assumed_relative_u" in said(refused, "c", "error")
    result = study_of(
        tmp_path,
        ["name,role,batch,file", "c,curve,one,c.txt"],
        STUDY + units + "assumed_relative_u = 0.03\nassumed_floor = 0.001\n",
    )
    x50 = sample(result, "c").quantity("x50")
    assert x50.value == pytest.approx(12.0, abs=3 * x50.u + 0.3)
    assert "assumed, not measured" in said(result, "c") and "120 points: 3 %" in said(result, "c")
