# SPDX-License-Identifier: GPL-3.0-or-later
"""The whole demo, from simulated frames to the verdict, held against the truth that the simulator kept."""

import csv
import json
import re

import numpy as np
import pytest

from conftest import make_demo
from sievelight.report import write_report
from sievelight.study import run_study

PERCENTILES = ("x10_nm", "x50_nm", "x90_nm", "mean_nm")


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = make_demo(tmp_path_factory.mktemp("demo"))
    result = run_study(folder / "study.toml")
    write_report(result)
    return folder, result, json.loads((folder / "truth.json").read_text())


def wafers(result):
    """Samples of the three kilns; the frames of the humidity cell are a series of one more wafer."""
    return [s for s in result.samples if s.batch]


def truth_of(truth, sample):
    return truth["measurements"][sample.name]["within_window"]


def rows(path):
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def test_the_clean_demo_raises_no_error_and_no_warning(demo):
    _, result, _ = demo
    assert len(wafers(result)) == 12 and len(result.samples) == 36
    wrong = [f for f in result.findings if f.severity != "note"]
    assert not wrong, "\n".join(f"{f.measurement}: {f.finding} {f.evidence}" for f in wrong)


def test_the_verdicts_are_the_true_ones(demo):
    _, result, _ = demo
    verdicts = {p.batch: p.verdict for p in result.comparison.pairs}
    assert verdicts == {"kiln 2": "equivalent", "kiln 3": "different"}
    significant = {p.batch: p.difference_significant for p in result.comparison.pairs}
    assert significant["kiln 3"]


def test_differences_of_batches_hold_the_truth(demo):
    _, result, truth = demo
    for pair in result.comparison.pairs:
        # The samples measured, not the recipe: the true difference of these very samples' mean logarithms.
        true = {
            batch: np.mean([np.log(truth_of(truth, s)["x50_nm"]) for s in result.samples if s.batch == batch])
            for batch in (pair.batch, result.comparison.reference)
        }
        difference = 100 * (np.exp(true[pair.batch] - true[result.comparison.reference]) - 1)
        assert pair.difference_percent_low < difference < pair.difference_percent_high
        # Measurement alone is better than 0.5 % here; the interval is wide because four samples scatter.
        assert pair.difference_percent == pytest.approx(difference, abs=0.5)


def test_bands_of_the_sizes_hold_the_truth(demo):
    _, result, truth = demo
    inside, pulls = 0, []
    for s in wafers(result):
        true = truth_of(truth, s)
        for name in PERCENTILES:
            e = s.summary[name]
            inside += e.band95.low <= true[name] <= e.band95.high
            pulls.append((e.value - true[name]) / e.u)
            # 1 % is what the design commits to for x50 at 3 % noise; these frames count better than that.
            assert e.value == pytest.approx(true[name], rel=0.01), f"{s.name} {name}"
    # 48 bands of 95 %, but all share the calibration: if that one error is a two-sigma one, many miss together. Fewer
    # than 36 of 48 inside would need more than that.
    assert inside >= 36, f"{inside} of 48 bands hold the truth; pulls {np.round(pulls, 1)}"


def test_volume_fraction_and_scale_hold_the_truth(demo):
    _, result, truth = demo
    for s in wafers(result):
        phi = truth["measurements"][s.name]["phi"]
        e = s.summary["phi_one_minus_phi"]
        # Standard uncertainty of the certificate 2.58 %, of the thicknesses under 1 %: three of them.
        assert e.value == pytest.approx(phi * (1 - phi), rel=0.085)
        assert abs(e.value - phi * (1 - phi)) < 3 * e.u


def test_the_geometry_is_found_from_a_start_that_is_off(demo):
    _, result, truth = demo
    g, t = result.calibration["geometry"], truth["instrument"]
    # 5e-4 is the calibrant's own standard uncertainty; 0.1 px what a ring of some thousand counts gives.
    assert g.distance_mm == pytest.approx(t["distance_mm"], rel=1.5e-3)
    assert g.beam_center_x_px == pytest.approx(t["beam_x_px"], abs=0.15)
    assert g.beam_center_y_px == pytest.approx(t["beam_y_px"], abs=0.15)


def test_every_promised_file_is_there_and_agrees_with_the_result(demo):
    folder, result, _ = demo
    out = folder / "results"
    summary = {r["name"]: r for r in rows(out / "summary.csv")}
    for s in result.samples:
        assert (out / "curves" / f"{s.name}.h5").exists() and (out / "distributions" / f"{s.name}.h5").exists()
        for name, e in s.summary.items():
            assert float(summary[s.name][name]) == e.value
            assert float(summary[s.name][f"{name}_low"]) == e.band95.low
    kinds = [(r["kind"], r["batch"], r["verdict"]) for r in rows(out / "batches.csv")]
    assert ("pair", "kiln 3", "different") in kinds and len(kinds) == 7  # two distances
    assert {r["severity"] for r in rows(out / "findings.csv")} <= {"note"}
    record = json.loads((out / "record.json").read_text())
    assert {i["file"] for i in record["inputs"]} >= {"study.toml", "measurements.csv", "frames/k1-a.h5"}
    assert all(re.fullmatch("[0-9a-f]{64}", i["sha256"]) for i in record["inputs"])
    assert str(folder) not in json.dumps(record), "the record must hold relative paths only"
    assert not [p for p in out.rglob("*.part")]


def test_a_generic_nexus_reader_opens_what_is_written(demo):
    from nexusformat.nexus import nxload

    folder, result, _ = demo
    s = result.samples[0]
    data = nxload(str(folder / "results" / "curves" / f"{s.name}.h5")).get_default()
    assert np.array_equal(np.asarray(data.nxsignal), s.curve.intensity)
    assert data.nxsignal.attrs["units"] in ("1/cm", "cm^-1")
    data = nxload(str(folder / "results" / "distributions" / f"{s.name}.h5")).get_default()
    assert np.array_equal(np.asarray(data.nxsignal), s.size.q3_per_nm)


def test_the_report_is_one_file_that_needs_nothing_else(demo):
    _, result, _ = demo
    page = result.report.read_text()
    for verdict in ("kiln 2 has the same pores as kiln 1", "kiln 3 has different pores from kiln 1"):
        assert verdict in page
    loads = re.findall(r'(?:src|href)="([^"]{0,60})', page)
    assert loads and all(target.startswith("data:image/svg+xml;base64,") for target in loads)
    # Every picture can be saved as SVG from the page: as many links with a name of their own as pictures.
    names = re.findall(r'download="([^"]+[.]svg)"', page)
    assert len(names) == len(set(names)) == page.count("<img ")
    assert "<script" not in page


def test_pictures_are_saved_as_svg_and_what_is_not_drawn_is_said(demo, tmp_path, monkeypatch):
    _, result, _ = demo
    page = result.report.read_text()
    # Frames of the series have one section; wafers a picture each: 12 curves, 3 kilns, batches, budget, geometry, 3 of the series.
    assert page.count("<img ") == 12 + 3 + 3 + 3 and "are drawn, those with a warning first" not in page
    monkeypatch.setattr("sievelight.report.html.MOST_PICTURES", 5)
    write_report(result, figures=tmp_path / "figures")
    short = result.report.read_text()
    assert "5 of 12 are drawn, those with a warning first; the folder curves/ holds the others." in short
    files = sorted((tmp_path / "figures").glob("*.svg"))
    assert len(files) == short.count("<img ") == 5 + 3 + 3 + 3
    assert {f.name for f in files} == set(re.findall(r'download="([^"]+)"', short))
    assert all(f.read_text().startswith("<?xml") and "</svg>" in f.read_text() for f in files)
    result.report.write_text(page)


def test_a_second_call_redoes_nothing_and_a_change_redoes_its_row_alone(demo, tmp_path):
    folder, result, _ = demo
    before = (folder / "results" / "summary.csv").read_bytes()
    assert len(result.redone) == 36
    again = run_study(folder / "study.toml")
    assert again.redone == []
    assert (folder / "results" / "summary.csv").read_bytes() == before
    assert [p.verdict for p in again.comparison.pairs] == [p.verdict for p in result.comparison.pairs]
    table = folder / "measurements.csv"
    original = table.read_text()
    try:
        line = next(text for text in original.splitlines() if text.startswith("k2-b,"))
        table.write_text(original.replace(line, line + " remeasured"))
        assert run_study(folder / "study.toml").redone == ["k2-b"]
    finally:
        table.write_text(original)


@pytest.fixture(scope="module")
def cycle(demo):
    """The series of the humidity cell, and the truth of its frames."""
    _, result, truth = demo
    (series,) = result.series
    return series, [truth["measurements"][s.name] for s in series.samples]


def test_the_first_change_in_the_humidity_cell_is_named_a_filling(demo, cycle):
    folder, result, _ = demo
    series, truth = cycle
    assert series.variable == "relative_humidity_percent" and series.change.first is not None
    first = truth[series.change.first]
    # Found while a twentieth of the pore volume or less is filled, and not before any is.
    assert first["branch"] == "rising" and 0.005 < first["filled_share"] < 0.1
    for frame, true in zip(series.change.frames, truth):
        if true["filled_share"] > 0.05:
            assert frame.changed
        if true["filled_share"] < 1e-6:
            assert not frame.changed  # chance of a false one in the whole series: 5 %; this seed has none
    # The shape changes, which without the model of filling reads as other pores; no frame refuses the filling.
    assert any(frame.another_shape for frame in series.change.frames)
    assert not any(frame.refused for frame in series.filling.frames)
    (said,) = [f for f in result.findings if f.measurement == series.name]
    assert said.severity == "note" and "fills the start's pores from the smallest up explains it" in said.finding
    page = result.report.read_text()
    assert (
        "the pores themselves need not have changed" in page and "filled with water from the smallest pores up" in page
    )
    found = rows(folder / "results" / "series.csv")
    assert [r["changed"] for r in found[2:]] == ["yes" if f.changed else "no" for f in series.change.frames[2:]]


def test_the_filled_share_and_kelvins_radius_hold_the_truth(cycle):
    series, truth = cycle
    pulls = []
    for k, (frame, true) in enumerate(zip(series.filling.frames, truth)):
        # Kelvin's radius of the package by IAPWS's surface tension at 25 C, of the simulator by its value: 0.5 % apart.
        assert series.kelvin_nm[k] == pytest.approx(true["kelvin_radius_nm"], rel=5e-3)
        if k < 2:
            continue  # the start
        share = frame.filled_share
        assert share.u < 0.02
        assert share.value == pytest.approx(true["filled_share"], abs=4 * share.u + 1e-3)
        if 0.05 < true["filled_share"] < 0.95:
            pulls.append((share.value - true["filled_share"]) / share.u)
            size = frame.filled_up_to_nm
            assert size.value == pytest.approx(true["filled_below_nm"], abs=4 * size.u)
            assert size.u < 0.03 * size.value
            # Rising: a pore fills at its own radius. Falling: it empties at its neck's, 0.6 of it.
            neck = 1.0 if true["branch"] == "rising" else 0.6
            assert neck * size.value / 2 == pytest.approx(series.kelvin_nm[k], rel=0.03)
    # Ten pulls or so that share the start's errors: their mean square is near 1, and below 3 for all but one in 10^3.
    assert len(pulls) >= 8 and np.mean(np.square(pulls)) < 3


def test_the_hysteresis_holds_the_truth(cycle):
    series, truth = cycle
    (loop,) = [loop for loop in series.loops if loop.quantity == "filled_share"]
    humidity, share = series.values, [t["filled_share"] for t in truth]
    top = int(np.argmax(humidity))
    low = max(humidity[0], humidity[-1])
    grid = np.linspace(low, max(humidity), 200_001)  # of the chords between the humidities that were measured
    up = np.interp(grid, humidity[: top + 1], share[: top + 1])
    down = np.interp(grid, humidity[top:][::-1], share[top:][::-1])
    area = np.trapezoid(down - up, grid)
    assert loop.hysteresis.turning_point == top
    assert loop.hysteresis.area.value == pytest.approx(area, abs=4 * loop.hysteresis.area.u)
    assert loop.hysteresis.area.u < 0.05 * area and loop.hysteresis.p_zero < 1e-6


def test_the_pores_stay_through_the_cycle(cycle):
    """Frames in which no pore is filled give the wafer's own sizes, before and after."""
    series, truth = cycle
    dry = [k for k, t in enumerate(truth) if t["filled_share"] < 1e-6]
    assert min(dry) == 0 and max(dry) == len(truth) - 1
    for k in dry:
        e = series.samples[k].summary["x50_nm"]
        assert e.value == pytest.approx(truth[k]["within_window"]["x50_nm"], rel=0.01)
