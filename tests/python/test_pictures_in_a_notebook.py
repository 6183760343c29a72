# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures show themselves below their cells, whichever call drew the first one; in a real kernel."""

import pytest

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")

SETUP = """
import numpy as np, sievelight as sl, tempfile
from sievelight import plot, plot_series
q = np.geomspace(0.1, 2, 30)
curve = sl.Curve(q_per_nm=q, intensity=np.exp(-q**2), private_u=0.01 * np.exp(-q**2), unit="1/cm")
"""
FIRST = {
    "plot": "plot.plot_curves({'a': curve});",
    "plot_series": "plot_series.plot_map([0, 1], [0, 0], [1, 2]);",
    "nothing": "pass",
}


@pytest.mark.slow
@pytest.mark.parametrize("first", FIRST)
def test_every_cell_shows_its_picture(first, monkeypatch):
    monkeypatch.delenv("MPLBACKEND", raising=False)  # where it is set the kernel keeps it, and shows nothing
    sources = [
        SETUP,
        FIRST[first],
        "plot.plot_curves({'a': curve});",
        "import matplotlib.pyplot as plt; plt.plot([1, 2]);",
    ]
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source) for source in sources])
    book.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbclient.NotebookClient(book, timeout=300).execute()
    shown = [sum("image/png" in out.get("data", {}) for out in cell.outputs) for cell in book.cells]
    assert shown == [0, int(first != "nothing"), 1, 1]


def test_the_style_leaves_everything_else_as_it_was():
    import matplotlib

    from sievelight import plot

    before = dict(matplotlib.rcParams)
    was = matplotlib.is_interactive()
    with plot.styled():
        assert matplotlib.rcParams["axes.spines.top"] is False
        matplotlib.interactive(not was)
    assert matplotlib.is_interactive() is not was
    matplotlib.interactive(was)
    after = dict(matplotlib.rcParams)
    assert {k for k in before if before[k] != after[k]} == set()


def test_a_budget_of_many_causes_stays_legible():
    import matplotlib.pyplot as plt

    from sievelight import plot

    shares = {"counts": 0.7, "absolute scale": 0.2, "spacing": 0.05} | {f"cause {k}": 0.05 / 15 for k in range(15)}
    ax = plot.plot_budget(shares)
    names = [text.get_text() for text in ax.get_yticklabels()]
    assert names == ["15 others, each below 1 %", "spacing", "absolute scale", "counts"]
    assert [round(bar.get_width(), 6) for bar in ax.patches] == [5.0, 5.0, 20.0, 70.0]
    few = plot.plot_budget({"a": 0.995, "b": 0.005})
    assert [text.get_text() for text in few.get_yticklabels()] == ["b", "a"]
    plt.close("all")
