# SPDX-License-Identifier: GPL-3.0-or-later
"""Names of strangers in pictures, on the terminal and in notebooks: shown letter by letter, never obeyed."""

import io
import xml.etree.ElementTree as tree
from pathlib import Path

import numpy as np
import pytest

import sievelight as sl
from sievelight import cli, plot
from sievelight.cli import show as terminal
from sievelight.inspect import InspectedFile

NAMES = [r"$\frac{", "$x$", "_hidden", "a\x07b\x00", "<script>alert(1)</script>", "[/red]", "--></svg>", "50 % \\ {}"]


def curve():
    q = np.linspace(0.1, 1, 12)
    return sl.Curve(q_per_nm=q, intensity=np.exp(-q), private_u=0.1 * q, unit="1/cm")


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_drawn_letter_by_letter(name):
    import matplotlib

    matplotlib.use("agg")
    import matplotlib.pyplot as plt

    ax = plot.plot_curves({name: curve()})
    plot.plot_budget({name: 0.7, "counts": 0.3}, title=name)
    shown = [t.get_text() for t in ax.get_legend().get_texts()]
    assert shown == [plot.plain(name)]
    for number in plt.get_fignums():
        text = io.StringIO()
        plt.figure(number).savefig(text, format="svg")
        root = tree.fromstring(text.getvalue())  # an SVG that a browser would show
        assert not [e for e in root.iter() if e.tag.endswith("script")]
    plt.close("all")


def test_plain_changes_nothing_else():
    assert plot.plain("Z41-b, 3 °C (µ)") == "Z41-b, 3 °C (µ)"
    assert plot.plain("$x$") == r"\$x\$"
    assert plot.plain("_a") == " _a" and plot.plain("a\nb") == "a b"


def test_brackets_in_a_name_are_no_orders_to_the_progress_bar(capsys):
    with terminal.progress() as show:
        for done, name in enumerate(NAMES):
            show(done, len(NAMES), name)
    assert "[/red]" in capsys.readouterr().err


@pytest.mark.parametrize("name", NAMES)
def test_a_notebook_shows_names_escaped(name):
    found = InspectedFile(f"x/{name}", "frames", {}, [("sample", name)], [name])
    page = found._repr_html_()
    assert "<script" not in page and "</svg" not in page


def test_a_terminal_obeys_no_name(capsys):
    terminal.say("error: '\x1b]0;owned\x07\x1b[2J' is no file\nWhat to do.\t1 \u00b5m", err=True)
    said = capsys.readouterr().err
    assert "\x1b" not in said and "\x07" not in said
    assert said.endswith("What to do.\t1 \u00b5m\n")


def test_no_line_leaves_by_another_way():
    """Every line of the command line goes through say, or a console that gets Text without controls."""
    sources = {file.name: file.read_text(encoding="utf-8") for file in Path(cli.__file__).parent.glob("*.py")}
    assert len(sources) > 5
    assert {name for name, source in sources.items() if "typer.echo(" in source} == {"show.py"}
    assert sources["show.py"].count("typer.echo(") == 1
    for name, source in sources.items():
        assert "print(" not in source.replace("console.print(", ""), name
        assert name == "show.py" or "console.print(" not in source


def test_a_table_of_a_file_obeys_no_name(capsys):
    terminal.show_inspected(InspectedFile("x/\x1b[2Ja", "study", {}, [("title", "\x1b]0;owned\x07")], ["\x1b[1m"]))
    assert "\x1b" not in capsys.readouterr().out
