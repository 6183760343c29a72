# SPDX-License-Identifier: GPL-3.0-or-later
"""Controls that all widgets share: a status line that is read aloud, text to copy, and how a widget is shown."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Iterable
from typing import Any

import ipywidgets as ipw

from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.widgets.kernel import one_at_a_time


class StatusLine:
    """One or more lines of words below a picture; a screen reader says them when they change."""

    def __init__(self) -> None:
        self.box = ipw.HTML(layout=ipw.Layout(width="100%"))
        self.words = ""
        self.say("")

    def say(self, words: str, *, wrong: bool = False) -> None:
        """Show words; `wrong` marks what could not be done."""
        self.words = words
        mark = "<b>Not done:</b> " if wrong else ""
        lines = "<br>".join(html.escape(line) for line in words.splitlines())
        self.box.value = (
            f'<div role="status" aria-live="polite" style="line-height:1.45;min-height:2.9em">{mark}{lines}</div>'
        )

    def say_wrong(self, words: str) -> None:
        """Show what could not be done, and its mend."""
        self.say(words, wrong=True)


class TextToCopy:
    """A box of text that follows the widget: lines for a study, or Python."""

    def __init__(self, label: str, rows: int = 6) -> None:
        self.text = ipw.Textarea(
            rows=rows, description=label, style={"description_width": "auto"}, layout=ipw.Layout(width="98%")
        )
        self.box = self.text

    def show(self, text: str) -> None:
        """Put the text."""
        self.text.value = text


def button(label: str, does: Callable[[], Any], status: StatusLine, *, hint: str = "") -> ipw.Button:
    """A button as wide as its words; what goes wrong is said on the status line."""
    made = ipw.Button(description=label, tooltip=hint or label, layout=ipw.Layout(width="auto", flex="0 0 auto"))

    def pressed(_: Any) -> None:
        guarded(does, status)

    made.on_click(pressed)
    return made


def watch(control: ipw.Widget, does: Callable[[], Any], status: StatusLine) -> None:
    """Do it whenever the control's value changes."""
    control.observe(lambda _: guarded(does, status), "value")


@one_at_a_time
def guarded(does: Callable[[], Any], status: StatusLine) -> None:
    """Do it; an error inside a widget's event would vanish in the kernel's log, so it is said instead."""
    try:
        does()
    except SIEVELIGHT_ERRORS as error:
        status.say_wrong(str(error))


def row(children: Iterable[Any]) -> ipw.HBox:
    """Controls side by side; they go to the next line where the notebook is narrow."""
    return ipw.HBox(list(children), layout=ipw.Layout(flex_flow="row wrap", align_items="flex-end", grid_gap="4px 8px"))


class Shown:
    """Something that a notebook shows when it stands on the last line of a cell."""

    view: ipw.Widget

    def _png(self) -> bytes | None:
        """The widget's picture as it stands."""
        return None

    @one_at_a_time
    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        shown = self.view._repr_mimebundle_(**kwargs)
        shown["text/plain"] = repr(self)
        if (png := self._png()) is not None:  # for readers of the notebook without its kernel
            shown["image/png"] = base64.b64encode(png).decode("ascii")
        return shown
