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
