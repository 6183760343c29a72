# SPDX-License-Identifier: GPL-3.0-or-later
"""The widgets without a browser: what the hand did comes out as values, as a study's text and as Python that agree."""

import subprocess
import sys

import numpy as np
import pytest
from test_mask_drawing import as_a_study_masks, as_python_masks
from widget_tools import click, drag, key, move, press

import sievelight as sl
from sievelight import widgets
from sievelight.frames import FrameMetadata
from sievelight.geometry import calibrant, pixel_map
from sievelight.study import run_study
from sievelight.study.findings import Findings
from sievelight.study.instrument import nominal_geometry
from sievelight.study.settings import parse_settings
from sievelight.widgets.rings import distance_through, ring_lines


@pytest.fixture(autouse=True)
def kernel(monkeypatch):
    """As in a notebook; what is sent to the browser goes nowhere."""
    monkeypatch.setattr("sievelight.widgets.kernel.kernel_is_there", lambda: True)


TRUTH = sl.DetectorGeometry(
    wavelength_nm=0.154187,
    distance_mm=400.0,
    beam_center_x_px=140.7,
    beam_center_y_px=120.2,
    pixel_size_x_mm=0.2,
    pixel_size_y_mm=0.2,
)
BEHENATE_NM = 5.838  # T. C. Huang et al., J. Appl. Cryst. 26 (1993) 180


@pytest.fixture(scope="module")
def rings():
    q = pixel_map(TRUTH, 250, 300).q_per_nm
    expected = 5.0 + sum(
        150.0 / n * np.exp(-0.5 * ((q - 2 * np.pi * n / BEHENATE_NM) / 0.03) ** 2) for n in range(1, 6)
    )
    return np.random.default_rng(7).poisson(expected).astype(float)


def spheres(q, diameter_nm=12.0, width=0.1):
    """Intensity of narrowly spread spheres (form factor: Rayleigh 1911), arbitrary scale."""
    d = diameter_nm * np.exp(width * np.linspace(-3, 3, 61))
    weight = np.exp(-0.5 * np.linspace(-3, 3, 61) ** 2) * d**6
    x = np.outer(q, d / 2)
    return ((3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2) @ weight / weight.sum() * 50


@pytest.fixture
def curve():
    q = np.geomspace(0.06, 2.5, 160)
    truth = spheres(q) + 0.05
    u = 0.01 * truth + 1e-3
    return sl.Curve(q_per_nm=q, intensity=truth + u * np.random.default_rng(1).standard_normal(q.size), private_u=u)


# The mask editor.


def editor_of(**options):
    counts = np.random.default_rng(2).poisson(20, (60, 80))
    editor = widgets.MaskEditor(counts, **options)
    return editor, editor._frame.live, editor._frame.ax


def test_a_mask_is_drawn_with_the_mouse():
    editor, live, ax = editor_of()
    drag(live, ax, (10, 20), (15, 22), (30, 40))
    editor._tool.value = "circle"
    drag(live, ax, (60, 30), (66, 38))
    editor._tool.value = "polygon"
    for corner in ((5, 50), (20, 50), (12, 58)):
        click(live, ax, corner)
    click(live, ax, (12, 58))
    press(live, ax, (12, 58), kind="dblclick")
    editor._tool.value, editor._effect.value = "pixels", "erase"
    click(live, ax, (20, 30))
    expected = sl.mask_rectangle((60, 80), x_px=(10, 30), y_px=(20, 40))
    expected |= sl.mask_circle((60, 80), center_px=(60, 30), radius_px=10)
    expected |= sl.mask_polygon((60, 80), corners_px=[(5, 50), (20, 50), (12, 58)])
    expected[30, 20] = False
    # A click falls on a pixel of the screen, so circles and polygons are right to a tenth of a detector's pixel or two.
    assert np.count_nonzero(editor.mask ^ expected) <= 12
    assert not editor.mask[30, 20] and editor.mask[30, 21]
    assert np.array_equal(as_a_study_masks(editor.toml), editor.mask)
    assert np.array_equal(as_python_masks(editor.code), editor.mask)
    assert f"Masked: {editor.mask.sum()} of 4800" in editor._status.words
    assert editor._text.text.value == editor.toml


def test_a_mask_is_drawn_from_the_keyboard():
    editor, live, _ = editor_of()  # the cursor begins in the middle: column 40, row 30
    key(live, "ArrowLeft", "shift+ArrowLeft", " ", "shift+ArrowRight", "ArrowUp", "ArrowUp", " ")
    assert np.array_equal(editor.mask, sl.mask_rectangle((60, 80), x_px=(29, 39), y_px=(30, 32)))
    key(live, "u")
    assert not editor.mask.any() and "Undone" in editor._status.words
    key(live, "r")
    assert editor.mask.sum() == 33
    key(live, " ", "ArrowUp", "Escape", " ")
    assert editor.mask.sum() == 33 and "begun" in editor._status.words


def test_a_click_without_a_drag_draws_no_rectangle_and_the_toolbar_keeps_its_own_drags():
    editor, live, ax = editor_of()
    click(live, ax, (10, 10))
    live.canvas.manager.toolbar.zoom()
    drag(live, ax, (10, 10), (30, 30))
    assert not editor.strokes


def test_tab_leaves_the_picture(monkeypatch):
    editor, live, _ = editor_of()
    went = []
    monkeypatch.setattr(type(live.after), "focus", lambda self: went.append(self.description))
    key(live, "Tab", "shift+Tab")
    assert went == ["Undo", "Redo"]
    assert not editor.strokes


def test_a_mask_goes_on_from_a_mask_or_a_studys_text(tmp_path):
    start = np.zeros((60, 80), dtype=bool)
    start[5:9, 7:20] = True
    dead = np.zeros((60, 80), dtype=bool)
    dead[0, 0] = True
    editor, _, _ = editor_of(start=start, masked=dead)
    assert np.array_equal(editor.mask, start), "what cannot be used anyway is not drawn"
    again, _, _ = editor_of(start=editor.toml)
    assert np.array_equal(again.mask, start)
    line = editor.save(tmp_path / "mask.npy")
    assert np.array_equal(as_a_study_masks(line, folder=tmp_path), start)
    with pytest.raises(sl.InputError, match=r"ends in \.npy"):
        editor.save(tmp_path / "mask.txt")


def test_an_error_is_said_where_the_hand_is():
    editor, live, ax = editor_of()
    editor._tool.value = "polygon"
    for corner in ((5, 50), (20, 50)):
        click(live, ax, corner)
    press(live, ax, (20, 50), kind="dblclick")
    assert "polygon" in editor._status.words and "Not done" in editor._status.box.value
    assert not editor.strokes


# The beam picker.


def geometry_of(toml):
    """The geometry that a study's text gives."""
    return nominal_geometry(parse_settings(toml), FrameMetadata(), "calibrant", Findings())


def close(a, b):
    """Equal to the digits that the text carries: 1e-4 mm and px, 1e-4 degree."""
    names = ("distance_mm", "beam_center_x_px", "beam_center_y_px", "pitch_deg", "yaw_deg", "roll_deg")
    return all(abs(getattr(a, n) - getattr(b, n)) <= 5.1e-5 for n in names) and a.pixel_size_mm == b.pixel_size_mm


def picker_of(rings, **options):
    options = {"wavelength_nm": 0.154187, "pixel_size_mm": 0.2, "distance_mm": 405.0, **options}
    picker = widgets.BeamPicker(rings, **options)
    return picker, picker._frame.live, picker._frame.ax


def test_the_beam_is_clicked_and_moved_by_keys(rings):
    picker, live, ax = picker_of(rings)
    click(live, ax, (137.0, 118.0))
    assert picker.beam_center_px == pytest.approx((137, 118), abs=0.5)
    x, y = picker.beam_center_px
    key(live, "ArrowRight", "shift+ArrowUp", "ctrl+ArrowLeft")
    assert picker.beam_center_px == pytest.approx((x + 0.9, y + 10), abs=1e-9)
    assert close(geometry_of(picker.toml), picker.geometry)
    names = {"sl": sl}
    exec(picker.code, names)
    assert names["geometry"] == picker.geometry
    picker._column.value = 99.5
    assert picker.beam_center_px[0] == 99.5


def test_the_rings_refine_what_was_clicked(rings):
    picker, live, ax = picker_of(rings)
    drag(live, ax, (150.0, 110.0), (138.0, 122.0))
    found = picker.refine_on_rings()
    for name in ("distance_mm", "beam_center_x_px", "beam_center_y_px"):
        # Four standard uncertainties: a false alarm in 16 000; the spacing's own error is not in this frame.
        assert abs(getattr(picker.geometry, name) - getattr(TRUTH, name)) < 4 * found.u(name)
    assert close(geometry_of(picker.toml), picker.geometry)
    instrument = parse_settings(picker.toml).instrument
    assert instrument.beam_center_u_px > 0 and instrument.distance_u_mm > found.u("distance_mm")
    names = {"sl": sl, "counts": rings, "masked": None}
    exec(picker.code, names)
    assert names["geometry"] == picker.geometry
    key(live, "ArrowLeft")
    assert picker.calibration is None and "beam_center_u_px" not in picker.toml


def test_a_click_on_a_ring_sets_the_distance(rings):
    picker, live, ax = picker_of(rings, beam_center_px=TRUTH.beam_center_px, distance_mm=700.0)
    picker._click.value = "a place on the ring"
    radius_px = 400 * np.tan(2 * np.arcsin(0.154187 / 2 / BEHENATE_NM)) / 0.2  # Bragg's law
    click(live, ax, (TRUTH.beam_center_x_px + radius_px, TRUTH.beam_center_y_px))
    assert picker.geometry.distance_mm == pytest.approx(400, rel=1 / radius_px)  # a pixel of the screen
    click(live, ax, TRUTH.beam_center_px)
    assert "away from the beam" in picker._status.words or picker.geometry.distance_mm < 1e5


def test_the_beams_spot_refines_what_was_clicked():
    y, x = np.indices((120, 150))
    spot = np.random.default_rng(4).poisson(2 + 4000 * np.exp(-((x - 70.3) ** 2 + (y - 55.8) ** 2) / (2 * 2.0**2)))
    picker = widgets.BeamPicker(spot, wavelength_nm=0.15, pixel_size_mm=0.1, distance_mm=900.0, calibrant=None)
    picker.move_to(66, 60)
    found = picker.refine_on_beam()
    assert abs(picker.beam_center_px[0] - 70.3) < 4 * found.u_x_px
    assert abs(picker.beam_center_px[1] - 55.8) < 4 * found.u_y_px
    names = {"sl": sl, "counts": spot, "masked": None}
    exec(picker.code, names)
    assert names["geometry"] == picker.geometry and close(geometry_of(picker.toml), picker.geometry)
    with pytest.raises(sl.InputError, match="no calibrant"):
        picker.refine_on_rings()


def test_rings_are_drawn_where_the_geometry_sees_them_tilt_and_all():
    tilted = TRUTH.replace(pitch_deg=7.0, yaw_deg=-4.0, roll_deg=30.0)
    material = calibrant("silver behenate")
    lines = ring_lines(tilted, material, (250, 300))
    assert len(lines) >= 3
    for d_nm, line in zip(material.d_nm, lines):
        assert [tilted.q_per_nm(*place) for place in line[::20]] == pytest.approx([2 * np.pi / d_nm] * len(line[::20]))
    assert distance_through(tilted, 2 * np.pi / material.d_nm[0], tuple(lines[0][17])) == pytest.approx(400.0)


def test_a_picker_says_what_it_does_not_know(rings):
    with pytest.raises(sl.InputError, match="does not know wavelength_nm and pixel_size_mm"):
        widgets.BeamPicker(rings)
    with pytest.raises(sl.InputError, match="no pixel of the frame has a finite count"):
        widgets.BeamPicker(np.full((5, 6), np.nan), wavelength_nm=0.15, pixel_size_mm=0.1)
    with pytest.raises(sl.InputError, match="mask of shape"):
        widgets.MaskEditor(rings, masked=np.zeros((2, 2), dtype=bool))
    with pytest.raises(sl.InputError, match="frame of shape"):
        widgets.MaskEditor(np.ones(7))


# The range picker.


def test_a_range_is_dragged_and_the_numbers_follow(curve):
    picker = widgets.RangePicker(curve)
    live, ax = picker._picture.live, picker._picture.curve_axes
    drag(live, ax, (0.08, 10.0), (0.12, 10.0), (0.2, 10.0))
    low, high = picker.guinier_range
    assert (low, high) == pytest.approx((0.08, 0.2), rel=0.02)  # a pixel of the screen is 0.8 % of q here
    by_code = sl.fit_guinier(curve, q_range_per_nm=picker.guinier_range)
    assert picker.rg_nm.value == by_code.rg_nm.value
    picker._what.value = "sizes"
    drag(live, ax, (0.1, 10.0), (1.5, 10.0))
    by_code = sl.invert(curve, q_range_per_nm=picker.sizes_range, method="evidence", look_for_order=False)
    assert picker.x50_nm.value == by_code.x50_nm.value and picker.x50_nm.band95.low == by_code.x50_nm.band95.low
    assert f"{picker.x50_nm.value:.3f} ± {picker.x50_nm.u:.3f} nm" in picker._numbers.value
    s = parse_settings(picker.toml)
    assert s.analysis.guinier_q_range_per_nm == picker.guinier_range
    assert s.distribution.q_range_per_nm == picker.sizes_range
    names = {"sl": sl, "curve": curve}
    exec(picker.code, names)
    assert names["guinier"].rg_nm.value == picker.rg_nm.value and names["sizes"].x50_nm.value == picker.x50_nm.value


def test_an_edge_is_dragged_alone_and_moved_by_keys(curve):
    picker = widgets.RangePicker(curve, guinier=(0.08, 0.2))
    live, ax = picker._picture.live, picker._picture.curve_axes
    drag(live, ax, (0.2, 10.0), (0.25, 10.0))
    assert picker.guinier_range[0] == 0.08 and picker.guinier_range[1] == pytest.approx(0.25, rel=0.02)
    key(live, "ArrowLeft")
    q = curve.q_per_nm
    assert np.min(np.abs(q / picker.guinier_range[1] - 1)) < 1e-3  # on a point of the curve, to four digits
    key(live, "ArrowDown", "shift+ArrowRight")
    assert picker.guinier_range[0] == pytest.approx(q[int(np.argmin(np.abs(np.log(q / 0.08)))) + 10], rel=1e-3)
    picker._ends[1].value = 0.3
    assert picker.guinier_range[1] == 0.3
    picker.automatic()
    assert picker.guinier_range is None and picker.rg_nm.value == sl.fit_guinier(curve).rg_nm.value


def test_a_range_without_an_answer_says_why(curve):
    picker = widgets.RangePicker(curve)
    picker.choose("Guinier", 0.06, 0.0605)
    assert picker.rg_nm is None and picker.values()["rg_nm"] is None
    assert "points" in picker._numbers.value
    picker.choose("sizes", 1.0, 1.1)
    assert picker.x50_nm is None and "points" in picker._numbers.value


def test_the_backgrounds_range_moves_the_curve_and_all_that_follows():
    q = np.geomspace(0.06, 3.0, 160)
    background = sl.Curve(q_per_nm=q, intensity=0.5 / np.sqrt(q), private_u=0.002 / np.sqrt(q))
    whole = spheres(q) + 0.8 * background.intensity
    sample = sl.Curve(q_per_nm=q, intensity=whole, private_u=0.01 * whole)
    picker = widgets.RangePicker(sample, background=background, background_range=(2.4, 3.0))
    factor = picker.values()["background_factor"]
    assert factor == pytest.approx(0.8, abs=0.02)  # the spheres still scatter 0.7 % of the background there
    before = picker.rg_nm.value, picker.x50_nm.value
    picker._what.value = "background"
    drag(picker._picture.live, picker._picture.curve_axes, (1.0, 5.0), (2.0, 5.0))
    assert picker.values()["background_factor"] > 0.82, "between 1 and 2 the spheres scatter, and pass for background"
    assert picker.rg_nm.value != before[0] and picker.x50_nm.value != before[1]
    assert parse_settings(picker.toml).reduce.fit_background_per_nm == picker.background_range
    names = {"sl": sl, "sample": sample, "background": background}
    exec(picker.code, names)
    assert np.array_equal(names["curve"].intensity, picker.curve.intensity)
    assert names["sizes"].x50_nm.value == picker.x50_nm.value


def test_a_curve_without_intensity_and_no_curve_are_refused():
    q = np.geomspace(0.1, 1, 30)
    with pytest.raises(sl.InputError, match="only 0 of 30 points"):
        widgets.RangePicker(sl.Curve(q_per_nm=q, intensity=np.zeros(30), private_u=np.ones(30)))
    with pytest.raises(sl.InputError, match="a list was given as a curve"):
        widgets.RangePicker([1, 2, 3])
    with pytest.raises(sl.InputError, match="without a background"):
        widgets.RangePicker(
            sl.Curve(q_per_nm=q, intensity=np.ones(30), private_u=np.ones(30)), subtraction={"thickness_mm": 1}
        )


def curve_study(folder, curve, toml=""):
    sl.write_csv(folder / "a.csv", curve)
    (folder / "measurements.csv").write_text("name,role,batch,file\na,curve,one,a.csv\nlost,curve,one,lost.csv\n")
    (folder / "study.toml").write_text(toml)
    return folder / "study.toml"


def test_a_study_uses_the_ranges_that_the_hand_chose(curve, tmp_path):
    picker = widgets.RangePicker(curve)
    picker.choose("Guinier", 0.07, 0.14)
    picker.choose("sizes", 0.08, 1.2)
    study = curve_study(tmp_path, curve, picker.toml.replace("[distribution]", '[distribution]\nmethod = "evidence"'))
    sample = run_study(study).samples[0]
    # The curve went through a file of text, hence not bit for bit.
    assert sample.summary["rg_nm"].value == pytest.approx(picker.rg_nm.value, rel=1e-6)
    assert sample.summary["x50_nm"].value == pytest.approx(picker.x50_nm.value, rel=1e-4)
    assert sample.details["guinier"]["q_low"] >= 0.07 and sample.details["guinier"]["q_high"] <= 0.14


# The study's browser and watcher.

QUICK = '[distribution]\nmethod = "evidence"\nwhat_if = "none"\n'


def test_a_study_is_watched_stopped_and_gone_on_with(curve, tmp_path):
    folder = tmp_path
    for name in ("a", "b", "c", "d"):
        sl.write_csv(folder / f"{name}.csv", curve)
    rows = "".join(f"{n},curve,{'one' if n in 'ab' else 'two'},{n}.csv\n" for n in "abcd")
    (folder / "measurements.csv").write_text("name,role,batch,file\n" + rows)
    (folder / "study.toml").write_text(QUICK)
    watcher = widgets.StudyWatcher(folder / "study.toml")
    assert watcher.state == "ready" and watcher._stop.disabled
    show = watcher._show

    def stop_after_the_first():
        if watcher.doing == "a" and watcher.state == "running":
            watcher.stop()
        else:
            show()

    watcher._show = stop_after_the_first
    watcher.start()
    assert watcher.wait(120) is None and watcher.state == "stopped", watcher._status.words
    watcher._show = show
    show()
    assert "Finished samples stand" in watcher._status.words and watcher._start.description == "Go on"
    watcher.start()
    result = watcher.wait(120)
    assert watcher.state == "finished", watcher._status.words
    assert "a" not in result.redone and len(result.samples) == 4
    assert "4 samples" in watcher._status.words and watcher._bar.value == watcher._bar.max


def test_a_study_that_cannot_run_says_so(tmp_path):
    with pytest.raises(sl.DataError, match="no study file"):
        widgets.StudyWatcher(tmp_path / "study.toml")
    (tmp_path / "study.toml").write_text("[instrumant]\n")
    watcher = widgets.StudyWatcher(tmp_path / "study.toml")
    watcher.start()
    assert watcher.wait(60) is None and watcher.state == "failed"
    assert "Did you mean 'instrument'" in watcher._status.words and "Not done" in watcher._status.box.value


def test_a_studys_samples_and_findings_are_browsed(curve, tmp_path):
    result = run_study(curve_study(tmp_path, curve, QUICK))
    browser = widgets.StudyBrowser(result)
    assert browser.selected is result.samples[0]
    assert browser.values()["x50_nm"] == result.samples[0].summary["x50_nm"].value
    assert "rg_nm" in browser._numbers.value and "quick look" in browser._said.value
    names = {"result": result}
    exec(browser.code, names)
    assert names["sample"] is browser.selected
    browser._search.value = "quick look"
    assert browser._listed == ["a"] and "1 of 2" in browser._status.words
    browser._search.value = "nothing like it"
    assert "Nothing in the study matches" in browser._status.words and browser._listed == ["a"]
    browser.select("lost")
    assert browser._listed == ["a", "lost"]
    key(browser._live, "ArrowUp")
    assert browser.selected is result.samples[0]
    browser.step(5)
    assert browser.selected is None and browser.values() == {}
    assert browser.findings and browser.findings[0].severity == "error" and "no result" in browser._status.words
    with pytest.raises(sl.InputError, match="Its samples: a, lost"):
        browser.select("nobody")
    with pytest.raises(sl.InputError, match="given as a study's result"):
        widgets.StudyBrowser([])


# Where there is no notebook.


def in_a_plain_python(program):
    return subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120)


def test_outside_of_a_notebook_a_widget_says_what_to_do():
    done = in_a_plain_python(
        "import numpy as np, sievelight as sl\n"
        "from sievelight import widgets\n"
        "for make in (lambda: widgets.MaskEditor(np.ones((4, 4))), lambda: widgets.RangePicker(None), lambda: widgets.StudyWatcher('x')):\n"
        "    try:\n        make()\n    except sl.InputError as error:\n        print(error)\n"
    )
    assert done.stdout.count("outside of a notebook") == 3 and done.stdout.count("JupyterLab") == 3, done.stderr
    assert "sl.mask_rectangle" in done.stdout and "sl.fit_guinier" in done.stdout and "sl.run_study" in done.stdout


@pytest.mark.parametrize("missing", ["ipympl", "ipywidgets"])
def test_without_the_extra_the_import_says_what_to_install(missing):
    done = in_a_plain_python(
        f"import sys; sys.modules['{missing}'] = None\n"
        "import sievelight\n"
        "try:\n    import sievelight.widgets\nexcept ImportError as error:\n    print(error)\n"
    )
    assert f"'{missing}'" in done.stdout and "pip install 'sievelight[notebook]'" in done.stdout, done.stderr


def test_the_package_alone_imports_no_widgets():
    done = in_a_plain_python(
        "import sys, sievelight\nprint([m for m in sys.modules if m.split('.')[0] in ('ipywidgets', 'ipympl') or m == 'sievelight.widgets'])"
    )
    assert done.stdout.strip() == "[]", done.stdout + done.stderr


def test_moves_over_the_picture_do_nothing_unless_a_button_is_held(rings):
    picker, live, ax = picker_of(rings)
    before = picker.geometry
    move(live, ax, (10.0, 10.0))
    assert picker.geometry == before
