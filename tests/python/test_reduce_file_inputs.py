# SPDX-License-Identifier: GPL-3.0-or-later
"""One sample's frames to its curve: equal to the chain call by call and to sums by hand, what it says of odd files, and
what it never writes over. All frames are invented and written by h5py."""

import itertools
import json
import math

import h5py
import numpy as np
import pytest
from typer.testing import CliRunner

import sievelight as sl
from sievelight.cli import app
from sievelight.errors import DataError, InputError
from sievelight.single_file import result as result_module
from sievelight.study.settings import read_settings

SHAPE = (60, 70)
GEOMETRY = {"wavelength_nm": 0.154, "distance_mm": 300.0, "beam_center_x_px": 30.0, "beam_center_y_px": 25.0,
            "pixel_size_x_mm": 0.2, "pixel_size_y_mm": 0.2}  # fmt: skip
# No finders: what they mask is tested elsewhere, and sums by hand shall be sums.
QUIET = "[mask]\nfind_defects = false\nfind_beamstop = false\nfind_spots = false\n"
QUIET_REDUCE = "[reduce]\nremove_spikes = false\ncompare_repeats = false\n"


def write(path, counts, *, exposure_s=10.0, monitor=None, wavelength_nm=0.154):
    """Counts (rows, columns) or (exposures, rows, columns) as NeXus with GEOMETRY in it."""
    counts = np.atleast_3d(counts) if np.ndim(counts) == 3 else np.asarray(counts)[None]
    with h5py.File(path, "w") as file:
        for group, kind in (
            ("entry", "NXentry"),
            ("entry/instrument", "NXinstrument"),
            ("entry/instrument/detector", "NXdetector"),
            ("entry/instrument/monochromator", "NXmonochromator"),
        ):
            file.create_group(group).attrs["NX_class"] = kind
        detector = file["entry/instrument/detector"]
        detector["data"] = counts.astype("i4")
        said = {"distance": (300.0, "mm"), "x_pixel_size": (0.2, "mm"), "y_pixel_size": (0.2, "mm")}
        said |= {"beam_center_x": (30.0, "pixel"), "beam_center_y": (25.0, "pixel")}
        if exposure_s is not None:
            said["count_time"] = (np.full(len(counts), exposure_s), "s")
        for name, (value, unit) in said.items():
            detector[name] = value
            detector[name].attrs["units"] = unit
        file["entry/instrument/monochromator/wavelength"] = wavelength_nm
        file["entry/instrument/monochromator/wavelength"].attrs["units"] = "nm"
        if monitor is not None:
            file.create_group("entry/control").attrs["NX_class"] = "NXmonitor"
            file["entry/control/integral"] = np.full(len(counts), monitor)
    return path


def pattern(strength=4000.0, floor=50.0):
    y, x = np.indices(SHAPE)
    q = 4 * np.pi / 0.154 * np.sin(np.arctan(np.hypot(x - 30.0, y - 25.0) * 0.2 / 300.0) / 2)
    return floor + strength * np.exp(-((3 * q) ** 2) / 3)


@pytest.fixture
def files(tmp_path):
    """Sample, background and dark of three exposures each, and the quiet instrument file."""
    rng = np.random.default_rng(11)
    for name, mean in (("sample", pattern()), ("background", pattern(0, 40)), ("dark", pattern(0, 4))):
        write(tmp_path / f"{name}.h5", rng.poisson(mean, (3, *SHAPE)))
    (tmp_path / "quiet.toml").write_text(QUIET + QUIET_REDUCE + "bins = 60\nq_min_per_nm = 0.05\nq_max_per_nm = 1.2\n")
    return tmp_path


NUMBERS = {"transmission": (0.8, 0.004), "background_transmission": 0.9, "thickness_mm": (1.2, 0.01)}


def reduced(files, **options):
    given = {"background": files / "background.h5", "dark": files / "dark.h5", "instrument": files / "quiet.toml"}
    return sl.reduce_file(files / "sample.h5", **(given | NUMBERS | options))


def words(done):
    return "\n".join(" | ".join((f.severity, f.finding, f.evidence, f.mend)) for f in done.findings)


def test_it_is_the_chain_call_by_call(files):
    done = reduced(files)
    view = sl.pixel_map(sl.DetectorGeometry(**GEOMETRY), *SHAPE)
    edges = sl.make_bins(view, bins=60, spacing="log", q_range_per_nm=(0.05, 1.2))
    averager = sl.Averager(
        view, edges_per_nm=edges, blur=sl.Blur(beam_fwhm_mm=0.0, pixel_size_x_mm=0.2, pixel_size_y_mm=0.2)
    )
    dark = sl.open_frames(files / "dark.h5").read_sum([])

    def averaged(name):
        file = sl.open_frames(files / f"{name}.h5")
        return averager.average([file.read(i) for i in range(3)], name=name, dark=dark, dark_name="dark")

    by_hand = sl.absolute_curve(
        averaged("sample"),
        transmission=sl.given_transmission("sample", 0.8, u=0.004),
        background=averaged("background"),
        background_transmission=sl.given_transmission("background", 0.9),
        thickness_mm=1.2,
        thickness_u_mm=0.01,
        shape=sl.reduce.PlateShape(),
        wavelength_nm=0.154,
    ).curve
    assert set(done.curve.causes) == set(by_hand.causes)
    for name in ("q_per_nm", "intensity", "private_u", "q_resolution_per_nm"):
        assert np.allclose(getattr(done.curve, name), getattr(by_hand, name), rtol=1e-13, atol=0), name
    for name, cause in by_hand.causes.items():
        assert np.allclose(done.curve.causes[name].u, cause.u, rtol=1e-12, atol=0), name
    assert np.array_equal(done.averaged.counts, averaged("sample").counts)


def test_the_command_gives_the_numbers_of_the_call(files):
    call = ["reduce", str(files / "sample.h5"), "--instrument", str(files / "quiet.toml"), "--background", str(files / "background.h5"),
            "--dark", str(files / "dark.h5"), "--transmission", "0.8,0.004", "--background-transmission", "0.9",
            "--thickness-mm", "1.2,0.01", "--json"]  # fmt: skip
    said = CliRunner().invoke(app, call)
    assert said.exit_code == 0, said.output
    numbers = json.loads(said.stdout, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    done = reduced(files)
    assert numbers["intensity"] == done.curve.intensity.tolist() and numbers["q_per_nm"] == done.curve.q_per_nm.tolist()
    assert (numbers["transmission"], numbers["transmission_u"]) == (0.8, 0.004)
    assert (numbers["thickness_mm"], numbers["thickness_u_mm"], numbers["distance_mm"]) == (1.2, 0.01, 300.0)
    assert "geometry, mask, shared frames" in said.stderr and "{" not in said.stderr


def sum_by_hand(counts, x_mm, *, distance_mm, area_mm2, seconds):
    """sum N / sum(t Omega P) of pixels along x: A cos^3 / L^2 is the solid angle of a pixel of a plane at right angles to
    the beam (elementary geometry), (1 + cos^2)/2 Thomson scattering of an unpolarised beam (textbook)."""
    cos = distance_mm / np.hypot(x_mm, distance_mm)
    return counts.sum() / np.sum(seconds * area_mm2 * cos**3 / distance_mm**2 * (1 + cos**2) / 2)


def bare(path, counts):
    with h5py.File(path, "w") as file:
        file.create_group("entry").attrs["NX_class"] = "NXentry"
        file.create_group("entry/instrument/detector").attrs["NX_class"] = "NXdetector"
        file["entry/instrument/detector/data"] = counts.astype("i4")
    return path


def test_a_strip_and_a_counter_give_their_sums(tmp_path):
    x = (np.arange(640) + 15.0) * 0.05
    counts = np.random.default_rng(1).poisson(2000 * np.exp(-x / 3) + 20)
    edges = [0.15, 0.5, 1.0, 2.0, 3.5]
    where = "[instrument]\nwavelength_nm = 0.154\ndistance_mm = 300.0\nbeam_center_px = [{}, 0.0]\npixel_size_mm = [0.05, 5.0]\n[reduce]\nedges_per_nm = {}\n"
    (tmp_path / "strip.toml").write_text(where.format(-15.0, edges))
    done = sl.reduce_file(bare(tmp_path / "strip.h5", counts[None, None]), instrument=tmp_path / "strip.toml", exposure_s=10.0)  # fmt: skip
    q = 4 * np.pi / 0.154 * np.sin(np.arctan(x / 300.0) / 2)
    by_hand = [sum_by_hand(counts[use], x[use], distance_mm=300.0, area_mm2=0.25, seconds=10.0)
               for use in ((q >= low) & (q < high) for low, high in itertools.pairwise(edges))]  # fmt: skip
    assert np.allclose(done.curve.intensity, by_hand, rtol=1e-12)

    (tmp_path / "counter.toml").write_text(where.format(-300.0, [0.5, 4.0]))
    one = sl.reduce_file(bare(tmp_path / "counter.h5", np.array([[[1234]], [[1250]]])), instrument=tmp_path / "counter.toml", exposure_s=2.0)  # fmt: skip
    value = sum_by_hand(np.array([2484.0]), np.array([15.0]), distance_mm=300.0, area_mm2=0.25, seconds=4.0)
    assert one.curve.intensity == pytest.approx([value], rel=1e-12)
    assert one.curve.private_u == pytest.approx([value / math.sqrt(2484)], rel=1e-12)  # Poisson
    assert sum("I(" in line for line in one.lines()) == 1


def test_repeats_in_several_files_are_one_measurement(files):
    with h5py.File(files / "sample.h5") as file:
        counts = file["entry/instrument/detector/data"][()]
    parts = [write(files / f"part{k}.h5", counts[k]) for k in range(3)]
    whole, of_parts = reduced(files), sl.reduce_file(parts, name="sample", instrument=files / "quiet.toml", dark=files / "dark.h5", background=files / "background.h5", **NUMBERS)  # fmt: skip
    assert np.allclose(of_parts.curve.intensity, whole.curve.intensity, rtol=1e-13)
    first = reduced(files, frames="0")
    assert first.averaged.counts.sum() < 0.4 * whole.averaged.counts.sum()


def beam(peak):
    y, x = np.indices(SHAPE)
    return peak * np.exp(-((x - 30.0) ** 2 + (y - 25.0) ** 2) / 2.0)


def test_transmissions_and_scale_come_from_direct_beams(files):
    for name, peak in (("through", 32000), ("nothing", 40000), ("cell", 36000)):
        write(files / f"{name}.h5", np.round(beam(peak)))
    beams = {"direct_beam": files / "through.h5", "empty_direct_beam": files / "nothing.h5", "background_direct_beam": files / "cell.h5",
             "beam_radius_px": 8.0, "transmission": None, "background_transmission": None}  # fmt: skip
    done, given = reduced(files, **beams), reduced(files)
    # Expected counts without noise, rounded to whole ones: 200 pixels, half a count each of 2.5e5.
    assert done.result.transmission.value == pytest.approx(0.8, abs=1e-4)
    assert np.allclose(done.curve.intensity, given.curve.intensity, rtol=1e-3, atol=1e-3 * given.curve.intensity.max())
    assert done.curve.unit == "relative" and "1 is used" not in words(done)
    scaled = reduced(files, **beams, attenuator_transmission=(1e-3, 1e-5))
    # k = 1 / (photons a second of the open beam): its counts over attenuator and time.
    rate = np.round(beam(40000)).sum() / 10.0 / 1e-3
    assert scaled.curve.unit == "1/cm"
    assert np.allclose(scaled.curve.intensity * rate, done.curve.intensity, rtol=1e-6, atol=1e-9)
    assert any("direct beam" in line for line in scaled.words)
    for options, said in (
        ({"empty_direct_beam": None}, "without empty_direct_beam"),
        ({"beam_radius_px": None}, "beam_radius_px is not set"),
        ({"transmission": 0.8}, "both transmission and direct_beam"),
    ):
        with pytest.raises(InputError, match=said):
            reduced(files, **(beams | options))


def test_one_file_may_be_background_and_empty_beam(files):
    cell = files / "background.h5"
    done = reduced(files, empty_beam=cell, background_transmission=None)
    assert np.allclose(done.curve.intensity, reduced(files, background_transmission=1.0).curve.intensity, rtol=1e-13)
    with pytest.raises(InputError, match="empty beam's is 1"):
        reduced(files, empty_beam=cell)


def test_water_gives_the_scale_and_asks_for_its_temperature(files):
    water = write(files / "water.h5", np.random.default_rng(3).poisson(pattern(0, 500)))
    asked = {
        "standard": water,
        "standard_material": "water",
        "standard_transmission": 0.9,
        "standard_thickness_mm": 1.0,
    }
    done = reduced(files, **asked, standard_temperature_C=20.0)
    assert done.curve.unit == "1/cm" and any("water" in line for line in done.words)
    with pytest.raises(InputError, match="no temperature_C"):
        reduced(files, **asked)
    with pytest.raises(InputError, match="known are glassy carbon") as caught:
        reduced(files, standard=water, standard_material="chalk")
    assert "column" not in str(caught.value)


def test_where_file_and_instrument_disagree_a_note_says_so(files):
    quiet = (files / "quiet.toml").read_text()
    (files / "other.toml").write_text(
        "[instrument]\nwavelength_nm = 0.1542\ndistance_mm = 310.0\nbeam_center_px = [25.0, 30.0]\npixel_size_mm = [0.2, 0.172]\n"
        + quiet
    )
    done = reduced(files, instrument=files / "other.toml", exposure_s=20.0)
    assert (done.geometry.distance_mm, done.geometry.pixel_size_y_mm) == (310.0, 0.172)
    said = words(done)
    for note in (
        "wavelength of 0.154 nm; [instrument] says 0.1542 nm",
        "distance of 300 mm; [instrument] says 310 mm",
        "pixel height of 0.2 mm; [instrument] says 0.172 mm",
        "(30.0, 25.0); [instrument] says (25.0, 30.0); it agrees with column and row exchanged",
        "exposure_s = 20 s is used; the file says 10 s",
    ):
        assert note in said, note
    assert "pixel width" not in said and "file says" not in words(reduced(files))
    assert any("distance of 300 mm" in note for note in done.notes)


def test_findings_are_those_of_a_study_in_the_words_of_a_call(files):
    (files / "low.toml").write_text(QUIET + QUIET_REDUCE + "[detector]\nsaturation_value = 3900\n")
    with h5py.File(files / "sample.h5") as file:
        readings = int(np.count_nonzero(file["entry/instrument/detector/data"][()] >= 3900))
    alone = words(sl.reduce_file(files / "sample.h5", instrument=files / "low.toml"))
    assert readings > 10 and "The detector is saturated" in alone and f"{readings} readings at or above 3900" in alone
    swapped = sl.reduce_file(files / "background.h5", background=files / "sample.h5", transmission=0.8, background_transmission=0.8)  # fmt: skip
    assert "warning | The background is brighter than the sample" in words(swapped)
    for said in (alone, words(swapped)):
        assert " row" not in said and "study" not in said and "table" not in said, said
    assert (
        "Give the transmission, or frames of the direct beam" in alone
        and "Geometry taken from the frame's file" in alone
    )


def test_a_hot_pixel_at_the_limit_is_a_defect_and_no_saturation(files):
    counts = np.random.default_rng(8).poisson(pattern(400), (3, *SHAPE))
    counts[:, 50, 60] = 5000
    (files / "limit.toml").write_text("[detector]\nsaturation_value = 3900\n")
    done = sl.reduce_file(write(files / "hot.h5", counts), instrument=files / "limit.toml")
    assert "saturated" not in words(done)


def test_a_monitor_that_only_some_have_is_not_used_and_that_is_said(files):
    rng = np.random.default_rng(5)
    write(files / "monitored.h5", rng.poisson(pattern(0, 40), (3, *SHAPE)), monitor=1e5)
    mixed = reduced(files, background=files / "monitored.h5")
    assert "not by the monitor" in words(mixed) and "a monitor: background; none: sample" in words(mixed)
    (files / "monitor.toml").write_text('[reduce]\nnormalize_by = "monitor"\n')
    with pytest.raises(InputError, match="'sample' has no monitor reading"):
        reduced(files, background=files / "monitored.h5", instrument=files / "monitor.toml")
    write(files / "both.h5", rng.poisson(pattern(), (3, *SHAPE)), monitor=2e5)
    both = sl.reduce_file(files / "both.h5", background=files / "monitored.h5", **NUMBERS)
    assert "not by the monitor" not in words(both)


def test_files_that_cannot_belong_together_are_refused_by_name(files):
    small = write(files / "small.h5", pattern(0, 40)[:50])
    other = write(files / "other.h5", pattern(0, 40), wavelength_nm=0.071)
    (files / "curve.csv").write_text("q_per_nm,intensity_per_cm\n0.1,2.5\n0.2,1.5\n0.3,0.7\n")
    (files / "junk.h5").write_bytes(b"nothing")
    sample = files / "sample.h5"
    for error, call, said in (
        (InputError, lambda: reduced(files, background=small), "(background) has frames of 50 × 70 pixels"),
        (InputError, lambda: reduced(files, dark=small), "(dark) has frames of 50 × 70 pixels"),
        (InputError, lambda: sl.reduce_file([sample, small]), "the sample's are 60 × 70"),
        (InputError, lambda: reduced(files, background=other), "wavelength of 0.071 nm"),
        (InputError, lambda: reduced(files, background=sample), "as the sample and as background"),
        (InputError, lambda: sl.reduce_file([sample, sample]), "given twice"),
        (DataError, lambda: sl.reduce_file(files / "curve.csv", exposure_s=1.0), "looks like a curve"),
        (DataError, lambda: reduced(files, dark=files / "junk.h5"), "junk.h5"),
        (InputError, lambda: sl.reduce_file(write(files / "neg.h5", pattern(), exposure_s=-3.0)), "the least is -3 s"),
        (InputError, lambda: sl.reduce_file([]), "no file was given"),
    ):
        with pytest.raises(error) as caught:
            call()
        text = str(caught.value)
        assert said in text and "\n" in text, text  # what, and on the next line how to mend it
        assert "(row " not in text and "study's" not in text, text


def test_an_exposure_fills_what_files_leave_open(files):
    rng = np.random.default_rng(6)
    silent = write(files / "silent.h5", rng.poisson(pattern(0, 40), (3, *SHAPE)), exposure_s=None)
    said = write(files / "said.h5", sl.open_frames(silent).read_sum([]).counts, exposure_s=30.0)
    filled = reduced(files, background=silent, exposure_s=10.0)
    assert np.allclose(filled.curve.intensity, reduced(files, background=said).curve.intensity, rtol=1e-12)
    with pytest.raises(InputError, match="'background' has no exposure"):
        reduced(files, background=silent)


def test_a_caller_s_settings_stay_as_they_are(files):
    settings = read_settings(files / "quiet.toml")
    np.save(files / "mask.npy", np.indices(SHAPE)[0] < 5)
    masked = reduced(files, instrument=settings, mask=files / "mask.npy")
    assert settings == read_settings(files / "quiet.toml")
    assert masked.averaged.pixels.sum() < reduced(files).averaged.pixels.sum()


def test_nothing_is_written_over_or_left_half_written(files, monkeypatch):
    done = reduced(files)
    for target in ("sample.h5", "background.h5", "dark.h5", "quiet.toml"):
        before = (files / target).read_bytes()
        with pytest.raises(InputError, match="one of the files that are read"):
            done.save(files / target, force=True)
        assert (files / target).read_bytes() == before
    for save, name in ((done.save, "out.h5"), (done.save, "out.csv"), (done.save_picture, "out.png")):
        first = save(files / name).read_bytes()
        with pytest.raises(InputError, match="--force"):
            save(files / name)
        assert save(files / name, force=True).read_bytes()[:4] == first[:4]
    inside = ["reduce", str(files / "sample.h5"), "--output", str(files / "sample.h5"), "--force"]
    early = CliRunner().invoke(app, inside)
    assert "are read" in str(early.exception) and "looking" not in early.stderr  # before anything is computed
    with pytest.raises(InputError, match="names no format"):
        done.save_picture(files / "out.docx")

    def stopped(path, *rest):  # that the core writes whole or not at all is held by its own tests
        raise KeyboardInterrupt

    kept = (files / "out.h5").read_bytes()
    monkeypatch.setattr(result_module, "write_curve", stopped)
    for target in ("out.h5", "fresh.h5"):
        with pytest.raises(KeyboardInterrupt):
            done.save(files / target, force=True)
    assert (files / "out.h5").read_bytes() == kept and not (files / "fresh.h5").exists()
    assert not list(files.glob(".*part"))
