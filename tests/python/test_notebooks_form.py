# SPDX-License-Identifier: GPL-3.0-or-later
"""Every notebook opens with its question, is held against the demo's truth, and ends with what its answer does not say."""

import json
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parent.parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def cells(path, kind):
    content = json.loads(path.read_text(encoding="utf-8"))
    return ["".join(cell["source"]) for cell in content["cells"] if cell["cell_type"] == kind]


def test_they_are_numbered_without_a_gap():
    assert [int(path.name[:2]) for path in NOTEBOOKS] == list(range(1, len(NOTEBOOKS) + 1))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_question_check_and_answer(path):
    words, code = cells(path, "markdown"), cells(path, "code")
    assert words[0].startswith("# ") and "**The question.**" in words[0] and "*invented*" in words[0]
    end = "\n".join(words[-2:])
    assert "## The answer" in end and "**What it does not say.**" in end
    assert any(re.search(r"^\s*(assert |check\()", cell, re.M) for cell in code)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_links_lead_somewhere_and_advice_defers_to_local_rules(path):
    words = "\n".join(cells(path, "markdown"))
    for target in re.findall(r"\]\(([^)]+\.ipynb)\)", words):
        assert (FOLDER / target).is_file(), target
    if re.search(r"[Bb]efore you do this|advice about", words):
        assert re.search(r"[Ll]ocal rules and trained staff decide", words)
