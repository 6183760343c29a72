# SPDX-License-Identifier: GPL-3.0-or-later
"""The widgets in JupyterLab, in a real browser: dragged, clicked, driven by keys, and read."""

import shutil
from pathlib import Path

import pytest
from lab import Lab, Picture, wait_until

BUILD = Path(__file__).resolve().parents[2] / "build"
pytestmark = pytest.mark.slow
PIXELS = ".jupyter-matplotlib-canvas-div canvas:first-child"  # what a picture is painted on

SETUP = """
import numpy as np
import sievelight as sl
from sievelight import widgets

truth = sl.DetectorGeometry(wavelength_nm=0.154187, distance_mm=400.0, beam_center_x_px=140.7, beam_center_y_px=120.2,
                            pixel_size_x_mm=0.2, pixel_size_y_mm=0.2)
q = sl.pixel_map(truth, 250, 300).q_per_nm
rings = 5 + sum(150 / n * np.exp(-0.5 * ((q - 2 * np.pi * n / 5.838) / 0.03) ** 2) for n in range(1, 6))
counts = np.random.default_rng(7).poisson(rings)

def spheres(q, d):
    x = q * d / 2
    return (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2

q = np.geomspace(0.06, 2.5, 200)
sizes = 12 * np.exp(0.1 * np.linspace(-3, 3, 61))
weight = np.exp(-0.5 * np.linspace(-3, 3, 61) ** 2) * sizes**6
intensity = 50 * sum(w * spheres(q, d) for w, d in zip(weight, sizes)) / weight.sum() + 0.05
u = 0.02 * intensity + 2e-3
curve = sl.Curve(q_per_nm=q, intensity=intensity + u * np.random.default_rng(1).standard_normal(200), private_u=u, unit="1/cm")
for name in ("tile-1", "tile-2", "tile-3", "tile-4"):
    noisy = sl.Curve(q_per_nm=q, intensity=intensity + u * np.random.default_rng(ord(name[-1])).standard_normal(200), private_u=u, unit="1/cm")
    sl.write_csv(f"{name}.csv", noisy)
with open("measurements.csv", "w") as file:
    file.write("name,role,batch,file\\ntile-1,curve,kiln 1,tile-1.csv\\ntile-2,curve,kiln 1,tile-2.csv\\n")
    file.write("tile-3,curve,kiln 2,tile-3.csv\\ntile-4,curve,kiln 2,tile-4.csv\\ntile-5,curve,kiln 2,tile-5.csv\\n")
with open("study.toml", "w") as file:
    file.write('[curves]\\nq_unit = "1/nm"\\nintensity_unit = "1/cm"\\n[distribution]\\nmethod = "evidence"\\nwhat_if = "none"\\n')
"""
CELLS = [
    SETUP,
    "editor = widgets.MaskEditor(counts)\neditor",
    "picker = widgets.BeamPicker(counts, wavelength_nm=0.154187, pixel_size_mm=0.2, distance_mm=405.0)\npicker",
    "ranges = widgets.RangePicker(curve)\nranges",
    'watcher = widgets.StudyWatcher("study.toml")\nwatcher',
    'browser = widgets.StudyBrowser(sl.run_study("study.toml", output="other"))\nbrowser',
]


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """One server, one browser and one notebook for all; yields page, kernel, and what the page complained of."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium; install Debian's package chromium")
    with Lab(tmp_path_factory.mktemp("lab")) as lab, playwright.sync_playwright() as p:
        lab.write_notebook("widgets.ipynb", CELLS)
        browser = p.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_context(viewport={"width": 1100, "height": 1600}).new_page()
        page.set_default_timeout(30_000)
        complaints = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        kernel = lab.open_and_run(page, "widgets.ipynb")
        kernel.until("'browser' in globals()", 120)
        try:
            yield page, kernel, complaints
        finally:
            kernel.close()
            browser.close()


def output_of(page, cell):
    """The output of a cell, once its widget stands there."""
    found = page.locator(".jp-Notebook .jp-Cell").nth(cell).locator(".jp-Cell-outputArea")
    found.locator(".jupyter-widgets").first.wait_for()
    assert found.locator(".jp-RenderedText[data-mime-type*=error]").count() == 0
    return found


def shoot(output, name):
    """A picture of the widget for a person to look at."""
    shots = BUILD / "screenshots"
    shots.mkdir(parents=True, exist_ok=True)
    output.screenshot(path=shots / f"widget-{name}.png")


def says(output, text):
    """Wait until the widget's words hold a text."""
    wait_until(f"the words {text!r}", lambda: text in " ".join(output.locator("[role=status]").all_inner_texts()))


def painted(output):
    """Wait until every picture holds something else than one colour."""
    many = "c => { if (c.width < 10) return false; const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; return new Set(new Uint32Array(d.buffer)).size > 5 }"
    for canvas in output.locator(PIXELS).all():
        wait_until("a picture to be painted", lambda canvas=canvas: canvas.evaluate(many))


def repainted(output, before):
    """Wait until the widget's picture is another one."""
    wait_until("another picture", lambda: output.locator(PIXELS).evaluate("c => c.toDataURL()") != before)


def test_a_mask_is_drawn_by_mouse_and_keys(opened):
    page, kernel, complaints = opened
    output = output_of(page, 1)
    painted(output)
    picture = Picture(page, kernel, output, "editor._frame.live", "editor._frame.ax")
    picture.drag((20, 30), (60, 50), (100, 70))
    says(output, "masked: rectangle, columns ")
    corners = kernel.ask(
        "sorted(round(v) for v in __import__('numpy').ravel(list(editor.strokes[0].numbers.values())))"
    )
    assert corners == pytest.approx([20, 30, 70, 100], abs=1)  # a mouse stands on whole pixels of the screen
    output.get_by_role("button", name="circle").click()
    picture.drag((200, 180), (200, 210))
    says(output, "masked: circle of radius")
    assert abs(kernel.ask("editor.strokes[-1].numbers['radius_px']") - 30) < 1  # a mouse stands on whole pixels
    output.get_by_role("button", name="polygon").click()
    picture.click((150, 20), (280, 20))
    x, y = picture.place(280, 60)
    page.mouse.dblclick(x, y)
    says(output, "masked: polygon of 3 corners")
    output.get_by_role("button", name="erase").click()
    output.get_by_role("button", name="rectangle").click()
    picture.drag((190, 170), (220, 190))
    says(output, "erased: rectangle")
    assert kernel.ask("[s.kind for s in editor.strokes]") == ["rectangle", "circle", "polygon", "rectangle"]
    assert kernel.ask("int(editor.mask[50, 60]), int(editor.mask[205, 200]), int(editor.mask[180, 200])") == (1, 1, 0)
    shown = output.locator("textarea").input_value()
    assert shown == kernel.ask("editor.toml") and "[[mask.polygon]]" in shown
    shoot(output, "mask-editor")
    output.get_by_role("button", name="Undo").click()
    says(output, "Undone: erased: rectangle")
    assert kernel.ask("int(editor.mask[180, 200])") == 1
    output.get_by_role("button", name="Redo").click()
    kernel.until("not editor.mask[180, 200]")
    picture.keys("ArrowLeft", "Shift+ArrowDown", "Space")
    says(output, "rectangle begun at column 149, row 115")
    picture.keys("Escape")
    assert not complaints


def test_the_keyboard_gets_into_a_picture_and_out_again(opened):
    page, _, _ = opened
    output = output_of(page, 1)
    output.get_by_role("button", name="Redo").focus()
    page.keyboard.press("Shift+Tab")
    inside = "() => document.activeElement.textContent + '|' + document.activeElement.className"
    assert "Undo" in page.evaluate(inside)
    output.locator(".jupyter-matplotlib-canvas-div").focus()
    page.keyboard.press("Tab")  # goes by way of the kernel
    wait_until("the focus to leave the picture", lambda: "Undo" in page.evaluate(inside))


def test_the_beam_is_picked_and_refined(opened):
    page, kernel, complaints = opened
    output = output_of(page, 2)
    painted(output)
    picture = Picture(page, kernel, output, "picker._frame.live", "picker._frame.ax")
    picture.drag((150, 110), (145, 115), (138, 122))
    kernel.until("abs(picker.beam_center_px[0] - 138) < 0.6 and abs(picker.beam_center_px[1] - 122) < 0.6")
    kernel.until("not picker._dragging")  # the button's release is the drag's last place
    x, y = kernel.ask("picker.beam_center_px")
    picture.keys("ArrowRight", "Shift+ArrowLeft", "Control+ArrowUp")
    kernel.until(f"abs(picker.beam_center_px[0] - {x - 9}) < 0.02 and abs(picker.beam_center_px[1] - {y + 0.1}) < 0.02")
    shoot(output, "beam-picker-by-hand")
    column = output.get_by_label("column / px")
    column.fill("139")
    column.press("Enter")
    kernel.until("picker.beam_center_px[0] == 139.0")
    output.get_by_role("button", name="Refine on the rings").click()
    says(output, "Refined on rings")
    off = "max(abs(picker.geometry.beam_center_x_px - 140.7), abs(picker.geometry.beam_center_y_px - 120.2))"
    assert kernel.ask(off) < 0.1 and abs(kernel.ask("picker.geometry.distance_mm") - 400) < 0.5
    assert "beam_center_u_px" in output.locator("textarea").input_value()
    shoot(output, "beam-picker-refined")
    assert not complaints


def test_a_range_is_dragged_and_the_numbers_follow(opened):
    page, kernel, complaints = opened
    output = output_of(page, 3)
    painted(output)
    picture = Picture(page, kernel, output, "ranges._picture.live", "ranges._picture.curve_axes")
    before = output.locator("table").inner_text()
    picture.drag((0.075, 1.0), (0.1, 1.0), (0.16, 1.0), steps=20)
    kernel.until("ranges.guinier_range is not None and abs(ranges.guinier_range[1] - 0.16) < 0.004")
    kernel.until("ranges._held is None")  # the button's release is the drag's last place
    rg = kernel.ask("f'{ranges.rg_nm.value:.3f}', f'{ranges.rg_nm.u:.3f}'")
    wait_until("Rg in the table", lambda: rg[0][:4] in output.locator("table").inner_text())
    assert output.locator("table").inner_text() != before
    assert kernel.ask("ranges.rg_nm.value == sl.fit_guinier(curve, q_range_per_nm=ranges.guinier_range).rg_nm.value")
    shoot(output, "range-picker-guinier")
    output.get_by_role("button", name="sizes").click()
    x50 = kernel.ask("ranges.x50_nm.value")
    picture.drag((0.12, 1.0), (0.5, 1.0), (1.4, 1.0), steps=20)
    kernel.until("ranges.sizes_range is not None and abs(ranges.sizes_range[1] - 1.4) < 0.03")
    kernel.until("ranges._held is None")
    assert kernel.ask("ranges.x50_nm.value") != x50
    high = kernel.ask("ranges.sizes_range[1]")
    picture.keys("ArrowLeft", "ArrowLeft")
    kernel.until(f"ranges.sizes_range[1] < {high}")
    low = output.get_by_label("from q / nm⁻¹")
    low.fill("0.2")
    low.press("Enter")
    kernel.until("ranges.sizes_range[0] == 0.2")
    wait_until("the study's text", lambda: "[0.2, " in output.locator("textarea").input_value())
    said = output.locator("textarea").input_value()
    assert "guinier_q_range_per_nm" in said and "[distribution]\nq_range_per_nm = [0.2, " in said
    shoot(output, "range-picker-sizes")
    assert not complaints


def test_a_study_is_started_from_the_notebook_and_followed_to_its_end(opened):
    page, kernel, complaints = opened
    output = output_of(page, 4)
    says(output, "ready to run")
    output.get_by_role("button", name="Start").click()
    says(output, "Finished: 4 samples, 4 of them computed")
    says(output, "1 error,")
    assert kernel.ask("watcher.state, len(watcher.result.samples)") == ("finished", 4)
    assert output.get_by_text("against kiln 1").count() == 1
    shoot(output, "study-watcher")
    assert not complaints


def test_a_study_is_browsed_by_keys(opened):
    page, kernel, complaints = opened
    output = output_of(page, 5)
    painted(output)
    picture = Picture(page, kernel, output, "browser._live", "browser._curve")
    shown = output.locator(PIXELS).evaluate("c => c.toDataURL()")
    picture.keys("ArrowDown")
    says(output, "tile-2, batch kiln 1: x50 =")
    repainted(output, shown)
    shown = output.locator(PIXELS).evaluate("c => c.toDataURL()")
    assert kernel.ask("browser.selected.name") == "tile-2"
    assert output.get_by_role("rowheader", name="rg_nm").count() == 1
    output.get_by_role("button", name="Next sample").focus()
    page.keyboard.press("Enter")
    says(output, "tile-3, batch kiln 2: x50 =")
    repainted(output, shown)
    shown = output.locator(PIXELS).evaluate("c => c.toDataURL()")
    shoot(output, "study-browser")
    search = output.get_by_label("Search")
    search.fill("no result")
    says(output, "tile-5 has no result")
    assert output.get_by_role("rowheader", name="error").count() >= 1
    repainted(output, shown)
    shoot(output, "study-browser-no-result")
    search.fill("kiln 1")
    wait_until("the list of a batch", lambda: output.locator("select option").count() == 2)
    output.locator("select").select_option(index=1)
    kernel.until("browser.selected.name == 'tile-2'")
    assert not complaints


def test_every_control_has_a_name_and_the_widgets_fit_the_page(opened):
    page, _, _ = opened
    nameless = """o => [...o.querySelectorAll('button, input, select, textarea')].filter(e => e.offsetParent && !(
        e.innerText.trim() || e.title || e.getAttribute('aria-label') || (e.labels && e.labels.length && e.labels[0].innerText.trim())
      )).map(e => e.outerHTML.slice(0, 200))"""
    for cell in range(1, len(CELLS)):
        output = output_of(page, cell)
        assert output.evaluate(nameless) == []
        wide = output.evaluate("o => [o.scrollWidth, o.clientWidth]")
        assert wide[0] <= wide[1] + 1, f"cell {cell} is cut off: {wide}"
