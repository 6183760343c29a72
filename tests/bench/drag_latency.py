# SPDX-License-Identifier: GPL-3.0-or-later
"""How long after a move of the mouse the range picker's numbers and picture follow, in JupyterLab in a browser.

    python tests/bench/drag_latency.py

Prints medians and the slowest tenth, in ms: of single moves, each after the last has settled, and after the end of a quick
drag. On a machine that is busy otherwise the figures say more about the machine.
"""

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "browser"))

from lab import Lab, Picture, wait_until
from playwright.sync_api import sync_playwright
from test_widgets_in_jupyterlab import SETUP, output_of, painted

WATCH = """() => {
    window.seen = {moved: 0, numbers: 0, picture: 0};
    window.addEventListener('mousemove', () => { seen.moved = performance.now(); seen.numbers = seen.picture = 0 }, true);
    new MutationObserver(() => { seen.numbers = performance.now() }).observe(
        document.querySelector('.sievelight-numbers').closest('.jupyter-widgets'), {childList: true, subtree: true});
    const draw = CanvasRenderingContext2D.prototype.drawImage;
    CanvasRenderingContext2D.prototype.drawImage = function (...a) { seen.picture = performance.now(); return draw.apply(this, a) };
}"""


def settled(page):
    """Wait until numbers and picture have followed and nothing more comes for 0.4 s; give the delays."""
    # A last move by a pixel may leave the numbers as they are, to the digits shown; the picture is always painted.
    calm = "() => seen.picture && performance.now() - Math.max(seen.numbers, seen.picture) > 400"
    wait_until("the widget to follow", lambda: page.evaluate(calm), every_s=0.02)
    seen = page.evaluate("seen")
    return seen["numbers"] - seen["moved"] if seen["numbers"] else np.nan, seen["picture"] - seen["moved"]


def main():
    with tempfile.TemporaryDirectory() as folder, Lab(folder) as lab, sync_playwright() as p:
        lab.write_notebook("drag.ipynb", [SETUP, "ranges = widgets.RangePicker(curve)\nranges"])
        browser = p.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_context(viewport={"width": 1100, "height": 1600}).new_page()
        kernel = lab.open_and_run(page, "drag.ipynb")
        kernel.until("'ranges' in globals()")
        output = output_of(page, 1)
        painted(output)
        picture = Picture(page, kernel, output, "ranges._picture.live", "ranges._picture.curve_axes")
        page.evaluate(WATCH)
        for what, (low, high) in {"Guinier": (0.1, 0.2), "sizes": (1.0, 2.0)}.items():
            output.get_by_role("button", name=what).click()
            picture.show()
            page.mouse.move(*picture.place(0.07, 1.0))
            page.mouse.down()
            single = []
            for q in np.geomspace(low, high, 25):
                page.mouse.move(*picture.place(float(q), 1.0))
                single.append(settled(page))
            quick = []
            for q in np.linspace(low, high, 8):
                page.mouse.move(*picture.place(float(q), 1.0), steps=30)
                quick.append(settled(page))
            page.mouse.up()
            for name, delays in (("single moves", single), ("after 30 moves in a row", quick)):
                numbers, pictures = np.array(delays).T
                print(
                    f"{what:8} {name:24} numbers {np.nanmedian(numbers):5.0f} ({np.nanquantile(numbers, 0.9):.0f}), "
                    f"picture {np.median(pictures):5.0f} ({np.quantile(pictures, 0.9):.0f}) ms"
                )
        kernel.close()
        browser.close()


if __name__ == "__main__":
    main()
