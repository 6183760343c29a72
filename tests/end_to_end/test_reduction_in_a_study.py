# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study may say about its reduction: steps, materials, roles, scales; and what it is told when that is wrong."""

import csv
import json
import sys

import h5py
import numpy as np
import pytest
from study_tools import said, sample, say, write_frame

from sievelight.study import run_study


@pytest.fixture
def truth(study):
    return json.loads((study[0] / "truth.json").read_text())


def test_a_step_is_switched_off_by_name_and_the_record_says_so(study):
    folder, _ = study
    before = run_study(folder / "study.toml")
    say(folder, "reduce", 'switch_off = ["self-absorption", "sensor efficiency"]')
    after = run_study(folder / "study.toml")
    steps = {s["name"]: s for s in sample(after, "k1-a").steps}
    assert steps["self-absorption"]["note"] == "switched off" and not steps["self-absorption"]["applied"]
    assert steps["polarisation"]["applied"]
    assert any(steps["counts"]["relative_u"])
    # C of a plate of T = 0.34 at 2 1/nm (2theta = 2.8 degrees) is 1 - 6e-4, and nothing else changed but the sensor's 1e-6.
    ratio = sample(after, "k1-a").curve.intensity[-1] / sample(before, "k1-a").curve.intensity[-1]
    assert 2e-4 < 1 - ratio < 2e-3
    say(folder, "reduce", "")
    path = folder / "study.toml"
    path.write_text(path.read_text().replace('"self-absorption", "sensor efficiency"', '"polarization"'))
    with pytest.raises(ValueError, match="no step of a reduction"):
        run_study(path)


def test_a_powder_is_reduced_per_gram_from_its_composition(study):
    folder, _ = study
    volume = run_study(folder / "study.toml")
    say(folder, "study", "")
    path = folder / "study.toml"
    path.write_text(path.read_text() + '\n[sample]\nintensity_per = "gram"\n')
    gram = run_study(path)
    a, b = sample(volume, "k1-a"), sample(gram, "k1-a")
    assert b.curve.unit == "cm2/g"
    # The tile's apparent density joins both: 1.5847 g/cm3; thickness 0.7 %, transmission 0.2 %, mu/rho 2 % (tables).
    assert np.median(a.curve.intensity / b.curve.intensity) == pytest.approx(1.5847, rel=0.05)
    assert "mass attenuation: SiO2" in b.curve.causes and "thickness: k1-a" not in b.curve.causes


def add_direct_beam(folder, edit, truth, *, attenuator=2e-3, said=None):
    """The attenuated direct beam of the demo's instrument; `said`: what the table says of the attenuator."""
    i = truth["instrument"]
    y, x = np.mgrid[: i["rows"], : i["columns"]]
    sigma = i["beam_fwhm_mm"] / 2.3548 / i["pixel_mm"]
    spot = np.exp(-((x - i["beam_x_px"]) ** 2 + (y - i["beam_y_px"]) ** 2) / (2 * sigma**2))
    # Silicon at this wavelength: 148 1/cm; air 0.0117 1/cm (NISTIR 5632).
    straight = (1 - np.exp(-148 * i["sensor_mm"] / 10)) * np.exp(-0.0117 * i["air_mm"] / 10)
    seconds = 20.0
    expected = i["flux_per_s"] * seconds * attenuator * straight * spot / spot.sum()
    counts = np.random.default_rng(3).poisson(expected).astype("i4")
    write_frame(folder / "frames" / "direct.h5", counts, seconds)
    said = attenuator if said is None else said
    edit(
        "direct",
        role="direct_beam",
        file="frames/direct.h5",
        incident_intensity="1000000",
        attenuator_transmission=str(said),
        attenuator_transmission_u=str(said / 100),
    )
    edit("empty-beam", direct_beam="direct")


@pytest.mark.parametrize("wrong", [1.0, 1.2])
def test_two_ways_to_the_absolute_scale_are_held_against_each_other(study, truth, wrong):
    """Silent where glassy carbon and direct beam agree within their errors; an attenuator 20 % off is found."""
    folder, edit = study
    edit("k1-b", batch="")  # fewer samples take less time, and no verdict is asked for
    add_direct_beam(folder, edit, truth, said=2e-3 * wrong)
    say(folder, "reduce", "beam_radius_px = 15")
    result = run_study(folder / "study.toml")
    heard = said(result, "direct")
    # Glassy carbon 2.6 %, attenuator 1 %: 2.8 % together, three of them 8 %.
    if wrong == 1.0:
        assert "disagree" not in heard and "'direct' gives" in result.scale["words"]
    else:
        assert "Two ways to the absolute scale disagree" in heard and "interlocked procedure" in heard
        assert "does not agree" in result.scale["words"]


def test_the_direct_beam_gives_the_scale_that_glassy_carbon_gives(study, truth):
    folder, edit = study
    glass = run_study(folder / "study.toml").scale
    add_direct_beam(folder, edit, truth)
    say(folder, "reduce", 'absolute_scale_from = "direct_beam"\nbeam_radius_px = 15')
    beam = run_study(folder / "study.toml")
    k, u = beam.scale["factor"], beam.scale["relative_u"]
    assert "direct beam 'direct'" in beam.scale["words"]
    assert 0.01 <= u < 0.015  # the attenuator's 1 %, counts of 1.5e5
    # Glassy carbon: 2.6 %; attenuation of air (1 % of 9 %) and the attenuator besides.
    assert k / glass["factor"] == pytest.approx(1, abs=3 * np.hypot(0.026, u))
    # And against the truth: monitor 1e6 reads flux 4e6, so k = 1e6 / 4e6.
    assert k == pytest.approx(1e6 / truth["instrument"]["flux_per_s"], rel=3 * u)


def test_a_flat_field_is_a_row_and_one_of_another_size_is_refused(study):
    folder, edit = study
    before = run_study(folder / "study.toml")
    shape = (600, 500)
    write_frame(folder / "frames" / "flat.h5", np.random.default_rng(4).poisson(4000, shape).astype("i4"), 100.0)
    edit("flat", role="flat_field", file="frames/flat.h5")
    say(folder, "detector", 'flat_field_from = "even"')
    after = run_study(folder / "study.toml")
    a, b = sample(before, "k1-a"), sample(after, "k1-a")
    assert "flat field: flat" in b.curve.causes
    # An even flat changes nothing beyond its own counts: 1/sqrt(4000) a pixel.
    z = (b.curve.intensity - a.curve.intensity) / b.curve.causes["flat field: flat"].u
    assert np.sqrt(np.mean(z[20:] ** 2)) < 2.5
    write_frame(folder / "frames" / "flat.h5", np.full((500, 600), 4000, "i4"), 100.0)
    wrong = run_study(folder / "study.toml")
    assert "500 × 600" in said(wrong, "flat", "error") and len(wrong.samples) == 6


def test_a_dispersant_is_taken_off_with_its_share(study):
    folder, edit = study
    before = run_study(folder / "study.toml")
    # A made-up matrix: the tile k2-a itself, of which a tenth is taken off k1-a.
    row = {"role": "dispersant", "batch": "", "file": "frames/k2-a.h5"}
    with open(folder / "measurements.csv") as file:
        lines = file.read().splitlines()
    header, k2 = lines[0].split(","), next(line for line in lines if line.startswith("k2-a,"))
    cells = dict(zip(header, next(csv.reader([k2])))) | row
    cells.pop("name")
    edit("matrix", **cells)
    edit("k1-a", dispersant="matrix", dispersant_share="0.1", dispersant_share_u="0.01")
    after = run_study(folder / "study.toml")
    a, m, b = (sample(before, "k1-a"), sample(before, "k2-a"), sample(after, "k1-a"))
    # The matrix's frame adds defects to the study's mask: a pixel fewer in some bins, and 5e-6 (seen) on the standard's
    # factor in all of them.
    expected = a.curve.intensity - 0.1 * m.curve.intensity
    assert np.quantile(np.abs(b.curve.intensity / expected - 1), 0.9) < 1e-4
    share = b.curve.causes["dispersant share: k1-a"].u / m.curve.intensity
    assert np.quantile(np.abs(share / -0.01 - 1), 0.9) < 1e-4
    assert b.steps[-1]["name"] == "dispersant" and b.steps[-1]["applied"]
    edit("k1-a", dispersant_share="")
    assert "dispersant_share" in said(run_study(folder / "study.toml"), "k1-a", "error")


def test_physics_objects_to_iron_to_another_wavelength_and_to_swapped_rows(study):
    folder, edit = study
    edit("k1-a", composition="Fe2O3")
    with h5py.File(folder / "frames" / "k1-b.h5", "r+") as file:

        def relabel(name, item):
            if name.endswith("wavelength"):
                item[...] = 0.0711

        file.visititems(relabel)
    edit("k2-b", background_scale="1000")
    result = run_study(folder / "study.toml")
    assert "Fe in Fe2O3 fluoresces" in said(result, "k1-a")
    assert "0.0711 nm" in said(result, "k1-b", "error")
    assert "background is brighter than the sample" in said(result, "k2-b")


def test_a_saturated_detector_is_a_finding(study):
    folder, _ = study
    path = folder / "study.toml"
    path.write_text(path.read_text().replace("saturation_value = 1000000", "saturation_value = 40"))
    result = run_study(path)
    assert "saturated" in said(result, "k1-a") + said(result, "k1-a", "error")


def test_windows_and_sensor_come_from_tables(study):
    folder, _ = study
    path = folder / "study.toml"
    path.write_text(
        path.read_text().replace(
            "[flight_path]", '[[flight_path.window]]\nmaterial = "polyimide"\nthickness_mm = 0.05\n[flight_path]'
        )
    )
    text = path.read_text()
    # TOML wants the table before its array.
    path.write_text(
        text.replace(
            '[[flight_path.window]]\nmaterial = "polyimide"\nthickness_mm = 0.05\n[flight_path]\nair_mm = 80.0',
            '[flight_path]\nair_mm = 80.0\n[[flight_path.window]]\nmaterial = "polyimide"\nthickness_mm = 0.05',
        )
    )
    result = run_study(path)
    steps = {s["name"]: s for s in sample(result, "k1-a").steps}
    assert "polyimide mu =" in steps["flight path"]["parameters"] and "air mu =" in steps["flight path"]["parameters"]
    assert steps["sensor efficiency"]["applied"]


def test_two_phases_give_the_contrast(study):
    folder, _ = study
    given = run_study(folder / "study.toml")
    path = folder / "study.toml"
    text = path.read_text()
    assert "contrast_per_cm2 = 1.86408e11" in text
    path.write_text(
        "\n".join(line for line in text.splitlines() if not line.startswith("contrast_per_cm2"))
        + '\n[[distribution.phase]]\ncomposition = "SiO2"\ndensity_g_per_cm3 = 2.2\n[[distribution.phase]]\ncomposition = "vacuum"\n'
    )
    found = run_study(path)
    a, b = (sample(r, "k1-a").quantity("phi_one_minus_phi").value for r in (given, found))
    # 1.2 % of dispersion in the contrast is 2.4 % of the fraction.
    assert b / a == pytest.approx(1.012**-2, rel=2e-3)
    assert any("Contrast of SiO2 and vacuum: 1.88" in f.finding for f in found.findings)
    path.write_text(text + '\n[[distribution.phase]]\ncomposition = "SiO2"\n')
    with pytest.raises(ValueError, match="1 phases and a contrast"):
        run_study(path)


@pytest.mark.parametrize("said_mm", [1.0, 1.3])
def test_water_is_one_more_way_to_the_scale(study, said_mm):
    """A dispersant of plain water holds glassy carbon's scale: silent where its thickness is right, heard at 30 % off.

    Scattering of water at 20 degrees: 0.01632 1/cm (D. Orthaber, A. Bergmann, O. Glatter, J. Appl. Cryst. 33 (2000) 218).
    """
    folder, edit = study
    make_frames = sys.modules["make_frames"]  # the demo's generator, which made the study's frames
    physics, instrument = make_frames.physics, make_frames.physics.Instrument()
    thickness_cm, level_per_cm, seconds = 0.1, 0.01632, 600.0
    row = make_frames.Row(
        "water",
        "dispersant",
        1,
        seconds,
        "lz4",
        sample_mu_d=physics.MU_WATER * thickness_cm,
        scattering_per_sr=lambda q: np.full_like(q, thickness_cm * level_per_cm),
    )
    pixels, detector = physics.map_pixels(instrument), make_frames.make_detector(1, instrument)
    rate = make_frames.expected_rate(row, pixels, instrument, instrument.flux_per_s)
    counts = make_frames.simulate_frames(row, rate, detector, instrument, np.random.default_rng(6))
    write_frame(folder / "frames" / "water.h5", counts.astype("i4"), seconds)
    transmitted = 1e6 * make_frames.true_transmission(row) * 0.8  # as the demo's monitors read
    edit(
        "water",
        role="dispersant",
        file="frames/water.h5",
        material="water",
        temperature_C="20",
        thickness_mm=str(said_mm),
        thickness_u_mm="0.005",
        background="empty-cell",
        dark="dark",
        incident_intensity="1000000",
        incident_intensity_u="1000",
        transmitted_intensity=f"{transmitted:.1f}",
        transmitted_intensity_u=f"{transmitted / 1000:.1f}",
    )
    result = run_study(folder / "study.toml")
    heard = said(result, "water")
    # Glassy carbon 2.6 %, water 0.6 %, counts and monitors 1 %: 3 % together, three of them 9 %.
    assert "'water' gives" in result.scale["words"]
    assert ("Two ways to the absolute scale disagree" in heard) == (said_mm != 1.0), heard
