# SPDX-License-Identifier: GPL-3.0-or-later
"""Studies on other instruments: places of a changer that differ, a strip with a line-shaped beam, the beam point from its
spot, oriented samples."""

import json

import numpy as np
import pytest
from study_tools import said, sample, say, write_frame

from sievelight import geometry
from sievelight.report import write_report
from sievelight.study import run_study


def test_a_place_of_the_changer_with_an_offset_moves_q_and_carries_its_own_uncertainty(study):
    folder, edit = study
    before = run_study(folder / "study.toml")
    place = "7"
    edit("k1-a", position=place)
    others = [s.name for s in before.samples if s.name != "k1-a"]
    for name in [*others, "silver-behenate", "glassy-carbon", "empty-cell", "empty-beam"]:
        edit(name, position="1")
    path = folder / "study.toml"
    path.write_text(path.read_text() + '\n[[instrument.position]]\nname = "7"\noffset_mm = 6.032\noffset_u_mm = 0.6\n')
    after = run_study(path)
    # 6.032 mm nearer of 603.2 mm: the same pixel is at a q higher by 1 %, sizes come out smaller by 1 %.
    a, b = sample(before, "k1-a"), sample(after, "k1-a")
    assert b.quantity("x50").value / a.quantity("x50").value == pytest.approx(0.99, abs=2e-3)
    assert sample(after, "k2-a").quantity("x50").value == pytest.approx(
        sample(before, "k2-a").quantity("x50").value, rel=1e-9
    )
    assert "sample plane 7" in b.curve.causes and "sample plane 7" not in sample(after, "k2-a").curve.causes
    # Its 1e-3 of the distance is 1e-3 of the size.
    influence = b.influence["x50_nm"] @ b.curve.causes["sample plane 7"].u
    assert abs(influence) / b.quantity("x50").value == pytest.approx(1e-3, rel=0.3)


def rings(distance_mm, shape, center, seed, pixel_mm=0.1, wavelength_nm=0.154):
    y, x = np.mgrid[: shape[0], : shape[1]]
    theta = np.arctan(np.hypot(x - center[0], y - center[1]) * pixel_mm / distance_mm) / 2
    q = 4 * np.pi / wavelength_nm * np.sin(theta)
    mean = 3 / (1 + (q / 0.5) ** 2) + 1
    for order in range(1, 14):
        mean = mean + 200 / order * np.exp(-0.5 * ((q - 2 * np.pi * order / 5.838) / 0.02) ** 2)
    return np.random.default_rng(seed).poisson(mean).astype("i4")


def test_calibrants_at_two_places_give_the_offset_between_them(tmp_path):
    shape, center = (300, 320), (160.4, 149.7)
    write_frame(tmp_path / "one.h5", rings(150.0, shape, center, 1), 10.0)
    write_frame(tmp_path / "two.h5", rings(149.2, shape, center, 2), 10.0)
    smooth = np.random.default_rng(3).poisson(50.0, shape).astype("i4")
    write_frame(tmp_path / "a.h5", smooth, 10.0)
    write_frame(tmp_path / "b.h5", smooth + 1, 10.0)
    (tmp_path / "measurements.csv").write_text(
        "name,role,file,position,material\nfirst,calibrant,one.h5,1,silver behenate\nsecond,calibrant,two.h5,2,silver behenate\n"
        "a,sample,a.h5,1,\nb,sample,b.h5,2,\n"
    )
    (tmp_path / "study.toml").write_text(
        "[instrument]\nwavelength_nm = 0.154\ndistance_mm = 150.0\nbeam_center_px = [160.0, 150.0]\n"
        'pixel_size_mm = [0.1, 0.1]\n[distribution]\nmethod = "evidence"\n'
    )
    result = run_study(tmp_path / "study.toml")
    line = next(x for x in result.calibration["lines"] if "place 2 stand" in x)
    offset, u = float(line.split("stand ")[1].split()[0]), float(line.split("± ")[1].split()[0])
    assert offset == pytest.approx(0.8, abs=3 * u) and 0 < u < 0.1
    assert "sample plane 2" in sample(result, "b").curve.causes
    assert result.calibration["q_relative_u"][1][1] > 4e-4  # the spacing's 5e-4 at least


STRIP = """
[instrument]
wavelength_nm = 0.154
distance_mm = 300.0
beam_center_px = [-20.0, 0.0]
pixel_size_mm = [0.05, 8.0]
{more}
[detector]
sensor_material = "Si"
sensor_thickness_mm = 0.32
[reduce]
bins = 80
[distribution]
method = "evidence"
"""


def through_a_line(r_mm, intensity_of_r, half_top_mm, half_base_mm, width_fwhm_mm):
    """What a strip counts under a line-shaped beam: the plain sum over a trapezoid along it, a Gaussian across it."""
    l_mm = np.linspace(-half_base_mm, half_base_mm, 481)
    along = np.interp(np.abs(l_mm), [half_top_mm, half_base_mm], [1.0, 0.0])
    across = np.linspace(-3, 3, 13)
    seen = np.zeros_like(r_mm)
    for z in across:
        r = np.hypot((r_mm + z * width_fwhm_mm / 2.3548)[:, None], l_mm)
        seen += np.exp(-0.5 * z * z) * (intensity_of_r(r) @ along) / along.sum()
    return seen / np.exp(-0.5 * across**2).sum()


def strip_study(folder, more="", line=None):
    """A strip of 1280 pixels, 20 pixels from the beam: spheres of 10 nm, over a flat cell, with a calibrant on it."""
    rng = np.random.default_rng(8)
    x = np.arange(1280)
    r = (x + 20.0) * 0.05
    q = 4 * np.pi / 0.154 * np.sin(np.arctan(r / 300.0) / 2)
    d = 10 * np.exp(0.12 * np.linspace(-3, 3, 61))
    weight = np.exp(-0.5 * np.linspace(-3, 3, 61) ** 2) * d**6
    form = 3 * (np.sin(np.outer(q, d / 2)) - np.outer(q, d / 2) * np.cos(np.outer(q, d / 2))) / np.outer(q, d / 2) ** 3
    spheres = form**2 @ weight / weight.sum()
    if line is not None:
        # The frames of a pinhole on a fine scale, then summed over the line; nearer to the beam than the strip reaches,
        # spheres of 10 nm are level to 1 %.
        fine = np.linspace(r[0], 80.0, 6000)
        fine_q = 4 * np.pi / 0.154 * np.sin(np.arctan(fine / 300.0) / 2)
        y = np.outer(fine_q, d / 2)
        point = (3 * (np.sin(y) - y * np.cos(y)) / y**3) ** 2 @ weight / weight.sum()
        spheres = through_a_line(r, lambda at: np.interp(at, fine, point), *line)
    per_pixel = np.cos(np.arctan(r / 300.0)) ** 3 * (1 + np.cos(np.arctan(r / 300.0)) ** 2) / 2
    behenate = sum(np.exp(-0.5 * ((q - 2 * np.pi * k / 5.838) / 0.02) ** 2) / k for k in range(1, 14))
    frames = {"cell": 30 + 0 * q, "agbeh": 30 + 3000 * behenate, "tile": 30 + 2e5 * spheres}
    for name, mean in frames.items():
        write_frame(folder / f"{name}.h5", rng.poisson(mean * per_pixel)[None, :].astype("i4"), 60.0)
    (folder / "measurements.csv").write_text(
        "name,role,file,material,background,transmission,thickness_mm\n"
        "cell,background,cell.h5,,,1.0,\nagbeh,calibrant,agbeh.h5,silver behenate,,,\ntile,sample,tile.h5,,cell,1.0,1.0\n"
    )
    (folder / "study.toml").write_text(STRIP.format(more=more))
    return run_study(folder / "study.toml")


def test_a_strip_detector_runs_a_whole_study(tmp_path):
    result = strip_study(tmp_path)
    assert [s.name for s in result.samples] == ["tile"], result.findings
    distance = result.record["geometry"]["distance_mm"]
    assert distance == pytest.approx(300.0, rel=2e-3)
    x50 = sample(result, "tile").quantity("x50")
    # The volume median of a number of log-normal width 0.12 drawn with weights d^6 is exp(0 x 0.12^2) of 10 nm: the
    # weights above are volume squared, so the volume-weighted median is 10 nm exp(3 x 0.12^2 - 3 x 0.12^2) = 10 nm.
    assert x50.value == pytest.approx(10.0 * np.exp(-3 * 0.12**2 + 3 * 0.12**2), abs=3 * x50.u + 0.5)


def test_a_line_shaped_beam_goes_into_the_kernel_and_no_law_of_a_point_is_read(tmp_path):
    slit = 'collimation = "line"\n[instrument.slit]\nhalf_top_mm = 3.0\nhalf_base_mm = 6.0\nwidth_fwhm_mm = 0.1'
    result = strip_study(tmp_path, slit, line=(3.0, 6.0, 0.1))
    tile = sample(result, "tile")
    # Number log-normal of median 10 nm and width 0.12: the volume median is 10 nm exp(3 x 0.12^2) (Hatch and Choate
    # 1929). Read as a pinhole's curve the same frames give 10.33 +- 0.07 nm, four of these uncertainties off.
    x50 = tile.quantity("x50")
    assert x50.value == pytest.approx(10.0 * np.exp(3 * 0.12**2), abs=3 * x50.u) and x50.u < 0.035
    assert tile.curve.has_slit() and "rg_nm" not in tile.summary and "porod_constant_per_cm5" not in tile.summary
    assert "stays so" in said(result, "tile", "note")
    assert any("smeared" in note for note in tile.size.notes)
    # Half widths 3 and 6 mm at 300 mm: the trapezoid's standard deviation in q is 2 pi / (lambda L) of its 1.94 mm
    # (variance of a trapezoid: (a^2 + b^2) / 6).
    sd = np.sqrt((3.0**2 + 6.0**2) / 6)
    geometry_ = result.record["geometry"]
    assert tile.curve.slit_length_per_nm[5] == pytest.approx(
        2 * np.pi / 0.154 * sd / geometry_["distance_mm"], rel=0.01
    )
    page = write_report(result).read_text(encoding="utf-8")
    assert "A curve, but no sizes" not in page and "not refined" in page
    seen = tile.details["desmeared"]
    assert "only" in seen["note"] and seen["q_per_nm"].size > 20
    again = run_study(tmp_path / "study.toml")
    assert again.redone == [] and sample(again, "tile").curve.has_slit()


def test_half_a_description_of_a_line_is_refused(study):
    folder, _ = study
    say(folder, "reduce", "")
    path = folder / "study.toml"
    text = path.read_text()
    path.write_text(text.replace('collimation = "point"', 'collimation = "line"'))
    with pytest.raises(ValueError, match="slit"):
        run_study(path)
    path.write_text(text.replace('collimation = "point"', 'collimation = "line"\nslit = { half_top_mm = 1.0 }'))
    with pytest.raises(ValueError, match="just once"):
        run_study(path)


def test_the_beam_point_comes_from_the_direct_beam(study):
    folder, edit = study
    i = json.loads((folder / "truth.json").read_text())["instrument"]
    y, x = np.mgrid[: i["rows"], : i["columns"]]
    sigma = i["beam_fwhm_mm"] / 2.3548 / i["pixel_mm"]
    spot = 4000 * np.exp(-((x - i["beam_x_px"]) ** 2 + (y - i["beam_y_px"]) ** 2) / (2 * sigma**2))
    write_frame(folder / "frames" / "direct.h5", np.random.default_rng(3).poisson(spot).astype("i4"), 1.0)
    edit("direct", role="direct_beam", file="frames/direct.h5")
    edit("silver-behenate", role="dark", material="")  # no rings: the frame serves nothing here
    say(folder, "instrument", 'beam_center_from = "direct_beam"\ndistance_u_mm = 0.6')
    path = folder / "study.toml"
    path.write_text(path.read_text().replace('mask = "frames/mask.h5"', ""))
    result = run_study(path)
    g = result.record["geometry"]
    # 1.2e5 counts, spot of 2.1 px: 0.006 px.
    assert g["beam_center_x_px"] == pytest.approx(i["beam_x_px"], abs=0.03)
    assert g["beam_center_y_px"] == pytest.approx(i["beam_y_px"], abs=0.03)
    causes = sample(result, "k1-a").curve.causes
    assert {"distance", "beam centre 1", "beam centre 2"} <= set(causes)
    # No ring says where the detector is: all of the 1e-3 is in the size.
    b = sample(result, "k1-a")
    assert abs(b.influence["x50_nm"] @ causes["distance"].u) / b.quantity("x50").value == pytest.approx(1e-3, rel=0.3)


def test_an_oriented_sample_is_a_finding_and_sectors_are_averaged(tmp_path):
    rng = np.random.default_rng(9)
    shape, center = (200, 200), (99.5, 99.5)
    g = geometry.DetectorGeometry(
        wavelength_nm=0.154, distance_mm=400.0, beam_center_x_px=99.5, beam_center_y_px=99.5,
        pixel_size_x_mm=0.2, pixel_size_y_mm=0.2,
    )  # fmt: skip
    y, x = np.mgrid[: shape[0], : shape[1]]
    chi = np.arctan2(y - center[1], x - center[0])
    r = np.hypot(x - center[0], y - center[1])
    mean = 400 * np.exp(-r / 40) * (1 + 0.4 * np.cos(2 * (chi - np.radians(30))))
    write_frame(tmp_path / "a.h5", rng.poisson(mean).astype("i4"), 10.0)
    write_frame(tmp_path / "b.h5", rng.poisson(400 * np.exp(-r / 40)).astype("i4"), 10.0)
    (tmp_path / "measurements.csv").write_text("name,role,file\nfibre,sample,a.h5\npowder,sample,b.h5\n")
    text = (
        f"[instrument]\nwavelength_nm = 0.154\ndistance_mm = {g.distance_mm}\nbeam_center_px = [99.5, 99.5]\npixel_size_mm = [0.2, 0.2]\n"
        '[mask]\nfind_beamstop = false\n[reduce]\nazimuth_q_per_nm = [0.5, 1.5]\n{}[distribution]\nmethod = "evidence"\n'
    )
    (tmp_path / "study.toml").write_text(text.format(""))
    result = run_study(tmp_path / "study.toml")
    fibre, powder = sample(result, "fibre"), sample(result, "powder")
    amplitude = fibre.quantity("azimuthal_amplitude")
    assert amplitude.value == pytest.approx(0.2, abs=4 * amplitude.u)  # 1 + a cos 2(chi - chi0) has A = a / 2
    assert "oriented, along 30°" in said(result, "fibre") and "oriented" not in said(result, "powder")
    assert powder.numbers["isotropic_probability"] > 1e-3
    assert fibre.details["azimuth_map"]["intensity"].shape == (72, 60)
    assert "over q and azimuth" in write_report(result).read_text(encoding="utf-8")
    (tmp_path / "study.toml").write_text(text.format("sectors_deg = [[20.0, 40.0], [200.0, 220.0]]\n"))
    along = sample(run_study(tmp_path / "study.toml"), "fibre")
    q = along.curve.q_per_nm[50:150]
    ratio = np.mean(along.curve.intensity[50:150] / np.interp(q, fibre.curve.q_per_nm, fibre.curve.intensity))
    # Mean of 1 + 0.4 cos 2x over -+10 degrees against 1 over the ring.
    assert ratio == pytest.approx(1 + 0.4 * np.sin(np.radians(20)) / np.radians(20), abs=0.03)


def test_what_bins_by_pixel_centre_cost_is_measured(study):
    folder, _ = study
    say(folder, "reduce", "by_area = true")
    result = run_study(folder / "study.toml")
    words = said(result, "k1-a", "note")
    assert "Bins by pixel centre and bins by area differ by" in words
    # Some hundred thousand counts in 200 bins: both ways see the same counts, so they differ by less than their noise.
    rms = float(words.split("differ by ")[1].split(" %")[0])
    noise = float(words.split("area-weighted points ")[1].split(" %")[0])
    assert 0 < rms < noise
    assert sample(result, "k1-a").details["by_area"]["q_per_nm"].size > 150
