# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures of a report: drawn once as SVG, held inside the page, saved from it or as files beside it."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sievelight import plot
from sievelight.files import write_text

# Coordinates of paths with more than two decimals of a point (1/72 inch) draw the same and are a third longer.
_PATH = re.compile(r'\bd="[^"]*"')
_LONG = re.compile(r"(\d\.\d\d)\d+")


class Gallery:
    """Draws pictures and keeps them by their file name."""

    def __init__(self) -> None:
        self.svg: dict[str, str] = {}  # file name -> text

    def draw(
        self, name: str, words: str, draw: Callable[[Any], object], size: tuple[float, float], **grid: Any
    ) -> dict[str, str]:
        """Draw on a fresh figure (axes, or what `plt.subplots(**grid)` gives); for the page: image, words, file."""
        import matplotlib.pyplot as plt

        with plot.styled():
            figure, axes = plt.subplots(figsize=size, **grid)
            try:
                draw(axes)
                text = io.StringIO()
                figure.savefig(text, format="svg", metadata={"Date": None})
            finally:
                plt.close(figure)
        svg = _PATH.sub(lambda path: _LONG.sub(r"\1", path[0]), text.getvalue())
        file = self._file(name)
        self.svg[file] = svg
        image = "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()
        return {"image": image, "words": words, "file": file}

    def _file(self, name: str) -> str:
        """A file name that every system takes and that no other picture has."""
        plain = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-.")[:160] or "picture"
        file, number = f"{plain}.svg", 2
        while file.lower() in {known.lower() for known in self.svg}:
            file, number = f"{plain}-{number}.svg", number + 1
        return file

    def save(self, folder: Path) -> list[Path]:
        """Write every picture into a folder, each whole or not at all; the paths."""
        paths = []
        for file, svg in self.svg.items():
            write_text(folder / file, svg)
            paths.append(folder / file)
        return paths
