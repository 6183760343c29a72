# SPDX-License-Identifier: GPL-3.0-or-later
"""The report opens offline in a real browser: no error, nothing missing, nothing cut off, on a phone and on a desk."""

import shutil
from pathlib import Path

import pytest

from sievelight.report import write_report
from sievelight.study import run_study

BUILD = Path(__file__).resolve().parents[2] / "build"


@pytest.fixture(scope="module")
def report(small_demo, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report") / "study"
    shutil.copytree(small_demo, folder)
    text = (folder / "study.toml").read_text()
    (folder / "study.toml").write_text(text.replace("[distribution]", '[distribution]\nmethod = "evidence"'))
    return write_report(run_study(folder / "study.toml"))


@pytest.fixture(scope="module")
def browser():
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium; install Debian's package chromium")
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.mark.slow
@pytest.mark.parametrize("width", [400, 1400])
def test_the_report_shows_everything_at_any_width(report, browser, width):
    context = browser.new_context(viewport={"width": width, "height": 900}, offline=True)
    page = context.new_page()
    said, failed = [], []
    page.on("console", lambda message: said.append(message.text))
    page.on("requestfailed", lambda request: failed.append(request.url[:80]))
    page.goto(report.as_uri())
    page.wait_for_load_state("load")
    assert not said and not failed
    broken = page.evaluate("[...document.images].filter(i => !(i.complete && i.naturalWidth > 0)).length")
    assert page.locator("img").count() >= 10 and broken == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= width, "the page scrolls sideways"
    assert page.locator(".answer p").first.is_visible()
    assert page.evaluate("[...document.images].every(i => i.alt.length > 10)")
    shots = BUILD / "screenshots"
    shots.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=shots / f"report-{width}.png", full_page=True)
    context.close()


@pytest.mark.slow
@pytest.mark.parametrize("width", [400, 1400])
def test_the_report_is_accessible(report, browser, width):
    """axe-core (the rules of WCAG 2.1 A and AA): names of images and tables, headings, language, contrast of text."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto(report.as_uri())
    found = axe.Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]})
    told = [
        f"{v['id']} ({v['impact']}): {v['help']}: {v['nodes'][0]['html'][:120]}" for v in found.response["violations"]
    ]
    assert not told, "\n".join(told)
    assert len(found.response["passes"]) > 10, "the checker looked at next to nothing"
    page.close()


@pytest.mark.slow
def test_everything_that_opens_is_reached_by_the_keyboard(report, browser):
    """Tab visits every link and every fold, and Enter opens a fold."""
    page = browser.new_page(viewport={"width": 1400, "height": 900})
    page.goto(report.as_uri())
    wanted = page.evaluate(
        "[...document.querySelectorAll('a[href], summary, button, input')].filter(e => e.getClientRects().length).length"
    )
    page.evaluate("window.reached = new Set(); addEventListener('focusin', e => window.reached.add(e.target))")
    for _ in range(3 * wanted + 20):
        page.keyboard.press("Tab")
    reached = page.evaluate("window.reached.size")
    assert reached >= wanted, f"{reached} of {wanted} were reached"
    fold = page.locator("summary").first
    if fold.count():
        fold.focus()
        was = fold.evaluate("e => e.parentElement.open")
        page.keyboard.press("Enter")
        assert fold.evaluate("e => e.parentElement.open") != was
    outline = page.locator("a[href], summary").first
    outline.focus()
    style = outline.evaluate("e => getComputedStyle(e).outlineStyle + ' ' + getComputedStyle(e).outlineWidth")
    assert not style.startswith("none"), "what has the focus must be seen"
    page.close()
