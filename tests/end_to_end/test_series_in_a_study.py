# SPDX-License-Identifier: GPL-3.0-or-later
"""Series of a study: an invented humidity cycle of a silica sorbent tile, stacks of which every exposure is a row."""

import csv

import numpy as np
import pytest
from study_tools import sample

from sievelight import curve as curves
from sievelight import series
from sievelight.report import write_report
from sievelight.study import run_study
from sievelight.study import series as series_of_a_study

UP, DOWN = (10.0, 30.0, 50.0, 65.0, 80.0), (66.0, 51.0, 31.0, 11.0)
# Contrast squared, relative to dry: water (9.4e10 1/cm2) fills pores of silica (18.6e10) from 60 % on, and leaves them below 40 %.
FILLED = {65.0: 0.8, 80.0: 0.5, 66.0: 0.5, 51.0: 0.6}


def write_cycle(folder, *, missing=None, backwards=False):
    q = np.geomspace(0.15, 2.5, 90)
    d = 12 * np.exp(0.15 * np.linspace(-4, 4, 121))
    weight = np.exp(-0.5 * np.linspace(-4, 4, 121) ** 2) * d**3
    x = np.outer(q, d / 2)
    pores = 0.02 * ((3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 @ weight)
    rows = ["name,role,series,file,relative_humidity_percent,temperature_C,time_s"]
    for k, humidity in enumerate((*UP, *DOWN)):
        truth = FILLED.get(humidity, 1.0) * pores + 0.02
        u = 0.02 * truth
        noisy = truth + u * np.random.default_rng([7, k]).standard_normal(q.size)
        made = curves.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm")
        curves.write_nxcansas(folder / f"h{k}.h5", made, title=f"h{k}")
        shown = "" if k == missing else f"{humidity:g}"
        rows.append(f"h{k},curve,cycle,h{k}.h5,{shown},25,{(9 - k if backwards else k) * 600}")
    (folder / "measurements.csv").write_text("\n".join(rows) + "\n")
    (folder / "study.toml").write_text(
        '[distribution]\nmethod = "evidence"\nwhat_if = "none"\ncontrast_per_cm2 = 1.864e11\n[compare]\nquantity = "phi_one_minus_phi"\n'
    )
    return run_study(folder / "study.toml")


def test_a_humidity_cycle_fills_and_empties_at_other_humidities(tmp_path):
    result = write_cycle(tmp_path)
    (cycle,) = result.series
    assert cycle.variable == "relative_humidity_percent" and cycle.values == [*UP, *DOWN]
    assert cycle.change.first == 3  # 65 %
    for k, humidity in enumerate((*UP, *DOWN)):
        f = cycle.change.frames[k]
        if k > 0:
            assert f.contrast_ratio.value == pytest.approx(FILLED.get(humidity, 1.0), abs=4 * f.contrast_ratio.u)
            assert f.changed == (humidity in FILLED) and not f.another_shape
    # Pores that fill evenly: a factor is enough, and no order of filling is refused or asked for.
    assert "start's curve scaled" in cycle.filling.words and not any(f.refused for f in cycle.filling.frames)
    assert not [f for f in result.findings if f.measurement == "cycle" and f.severity != "note"]
    h = cycle.hysteresis
    assert h.turning_point == 4 and h.mean_difference.value < 0 and h.p_zero < 1e-4
    assert cycle.kelvin_nm[2] == pytest.approx(1.51, abs=0.01)
    with open(tmp_path / "results" / "series.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [r["changed"] for r in rows[1:]] == ["yes" if h in FILLED else "no" for h in (*UP, *DOWN)[1:]]
    assert any("from 'h3' on" in f.finding for f in result.findings)
    page = write_report(result).read_text(encoding="utf-8")
    assert "<h2>Series</h2>" in page and "Second branch less first" in page


def test_a_gap_and_a_clock_that_runs_backwards_are_named(tmp_path):
    (tmp_path / "gap").mkdir()
    gap = write_cycle(tmp_path / "gap", missing=4)
    assert any("relative_humidity_percent is missing in 1 of 9" in f.finding for f in gap.findings)
    assert gap.series[0].variable == "time_s"
    (tmp_path / "back").mkdir()
    back = write_cycle(tmp_path / "back", backwards=True)
    assert any("runs backwards" in f.finding for f in back.findings)
    assert [s.name for s in back.series[0].samples] == [f"h{k}" for k in range(8, -1, -1)]


def test_every_exposure_of_a_stack_is_a_row(study):
    folder, edit = study
    edit("k1-a", frames="each", time_s="0", time_step_s="20")
    result = run_study(folder / "study.toml")
    first, second = sample(result, "k1-a-000"), sample(result, "k1-a-001")
    assert [s.name for s in result.series[0].samples] == ["k1-a-000", "k1-a-001"] and result.series[0].name == "k1-a"
    assert result.series[0].values == [0.0, 20.0] and result.series[0].change.first is None
    assert not np.array_equal(first.curve.intensity, second.curve.intensity)
    # They are one sample, and not two of kiln 1.
    assert not {"k1-a-000", "k1-a-001"} & set(result.compared) and first.batch == ""
    assert any("of one sample" in f.finding for f in result.findings)
    # A map needs places.
    assert not result.series[0].is_map


def test_a_stack_that_cannot_be_opened_stays_one_row_with_its_problem(study):
    folder, edit = study
    edit("k1-a", frames="each", file="frames/nowhere.h5")
    result = run_study(folder / "study.toml")
    assert "k1-a" in result.failed and len(result.samples) >= 3


def test_repeated_humidities_and_several_cycles_are_taken_apart():
    # Two cycles, every humidity twice with a sensor that wavers by 0.1 %: the second loop is half as wide as the first.
    up, down = np.array([10.0, 30.0, 50.0, 70.0]), np.array([50.0, 30.0, 10.0])
    humidity = np.repeat(np.concatenate([up, down, up[1:], down]), 2)
    humidity[1::2] += 0.1
    lag = np.concatenate([np.zeros(4), np.full(3, 0.2), np.zeros(3), np.full(3, 0.1)]).repeat(2)
    values, variance = humidity / 100 + lag, np.eye(humidity.size) * 1e-6
    found = series_of_a_study._loops(list(humidity), "filled_share", list(values), lambda: variance)
    assert [(loop.first, loop.last) for loop in found] == [(0, 13), (12, 25)]
    wide, narrow = (loop.hysteresis for loop in found)
    assert wide.turning_point == 7
    # Down the first loop stands 0.2 above, but at the top both meet: 0.2 x (40 + 20 / 2) over 60 % of humidity.
    assert wide.area.value == pytest.approx(0.2 * 50, rel=0.01)
    # The second begins 0.2 up, where the first ended: -0.2 x 20 / 2 there, and 0.1 x 50.
    assert narrow.area.value == pytest.approx(0.1 * 50 - 0.2 * 10, rel=0.02)
    # Means of two: u falls by sqrt(2); u of the area is that of some 10 points of 1e-3 / sqrt(2), each worth 20.
    assert 0.02 < wide.area.u < 0.06


def test_kelvin_radius_refuses_dry_air():
    with pytest.raises(ValueError, match="humidity"):
        series.kelvin_radius_nm(0.0)


def test_hysteresis_takes_one_statement_of_its_errors():
    with pytest.raises(ValueError, match="both a covariance and u"):
        series.hysteresis([1, 2, 1], [0, 1, 0], covariance=np.eye(3), u=np.ones(3))
