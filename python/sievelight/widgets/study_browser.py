# SPDX-License-Identifier: GPL-3.0-or-later
"""Go through a study's samples: each one's curve, fit, sizes, numbers and findings."""

from __future__ import annotations

import html
import math
from typing import Any

import ipywidgets as ipw
import numpy as np

from sievelight import plot
from sievelight._core import Estimate
from sievelight.errors import input_error
from sievelight.plot import styled
from sievelight.study import SampleResult, StudyResult
from sievelight.study.findings import Finding
from sievelight.study.results import names_quantity
from sievelight.widgets.controls import Shown, StatusLine, button, row, watch
from sievelight.widgets.kernel import need_kernel, one_at_a_time
from sievelight.widgets.live_figure import LiveFigure

HELP = (
    "Click a sample, or go through them with the buttons, or with Up and Down on the picture; Tab leaves the picture."
)
LIST_STYLE = (
    "<style>.sievelight-list select {font-family: var(--jp-code-font-family, monospace); font-size: 12px}</style>"
)


class StudyBrowser(Shown):
    """Shows a study's samples one at a time.

    Parameters
    ----------
    result : the StudyResult of `sl.run_study`, which reads a finished study back in seconds.
    select : name of the sample to begin with; the first one by default.

    Attributes
    ----------
    selected : the SampleResult in view, None where a measurement has no result.
    findings : the findings of what is in view.
    values() : the sample's numbers under their names, with `_u`, `_low` and `_high`.
    code : Python that gets the same sample.

    Raises
    ------
    InputError : outside of a notebook; no StudyResult; a name that is not in the study.

    Examples
    --------
    ::

        browser = widgets.StudyBrowser(sl.run_study("study.toml"))   # and `browser` on the last line
        browser.selected.size.x50_nm
    """

    def __init__(self, result: StudyResult, *, select: str | None = None) -> None:
        need_kernel("StudyBrowser", "for sample in result.samples: print(sample.name, sample.summary)")
        if not isinstance(result, StudyResult):
            raise input_error(
                f"a {type(result).__name__} was given as a study's result.", "Give what sl.run_study(...) returns."
            )
        self.result = result
        self._samples = {s.name: s for s in result.samples}
        # Every measured row: those without a result are there to be asked why.
        self._names = list(dict.fromkeys([*self._samples, *(n for n in result.failed if n not in self._samples)]))
        if not self._names:
            raise input_error(
                "the study has no samples to show.", "Add rows of role sample to its table, and run it again."
            )
        if select is not None and select not in self._names:
            raise input_error(f"there is no sample '{select}' in the study.", f"Its samples: {', '.join(self._names)}.")
        self._live = LiveFigure(width_in=8.6, height_in=4.0, toolbar=True, name="Sample's curve and sizes")
        with styled():
            grid = self._live.figure.add_gridspec(2, 2, width_ratios=(1.25, 1.0), height_ratios=(3.2, 1.0))
            self._curve = self._live.figure.add_subplot(grid[0, 0])
            self._residuals = self._live.figure.add_subplot(grid[1, 0], sharex=self._curve)
            self._sizes = self._live.figure.add_subplot(grid[:, 1])
        self._make_controls()
        self._list.value = select if select is not None else self._names[0]
        self._show()
        self._live.lay_out()

    def _png(self) -> bytes:
        return self._live.png()

    # What it gives.

    @property
    def selected(self) -> SampleResult | None:
        """The sample in view."""
        return self._samples.get(self._list.value)

    @property
    def findings(self) -> list[Finding]:
        """What a referee would object to in the sample in view."""
        return self._findings_of(self._list.value)

    def values(self) -> dict[str, Any]:
        """The sample's numbers: each estimate as value, `_u`, `_low` and `_high` (95 %)."""
        sample = self.selected
        if sample is None:
            return {}
        out: dict[str, Any] = {"name": sample.name, "batch": sample.batch}
        for name, e in sample.summary.items():
            out |= {name: e.value, f"{name}_u": e.u, f"{name}_low": e.band95.low, f"{name}_high": e.band95.high}
        return out | sample.numbers

    @property
    def code(self) -> str:
        """Python that gets the sample in view from the study's `result`."""
        return f"sample = next(s for s in result.samples if s.name == {self._list.value!r})"

    # What the hand does.

    @one_at_a_time
    def select(self, name: str) -> None:
        """Show a sample. Raises InputError for a name that is not in the study."""
        if name not in self._names:
            raise input_error(f"there is no sample '{name}' in the study.", f"Its samples: {', '.join(self._names)}.")
        if name not in self._listed:
            self._search.value = ""
        self._list.value = name

    @one_at_a_time
    def step(self, by: int) -> None:
        """Show the sample so many lines further down the list."""
        here = self._listed.index(self._list.value) if self._list.value in self._listed else 0
        self._list.value = self._listed[min(max(here + by, 0), len(self._listed) - 1)]

    def _findings_of(self, name: str | None) -> list[Finding]:
        return [f for f in self.result.findings if f.measurement == name]

    def _make_controls(self) -> None:
        self._status = StatusLine()
        self._search = ipw.Text(
            description="Search",
            placeholder="name, batch, warning, words of a finding",
            style={"description_width": "auto"},
            layout=ipw.Layout(width="340px"),
        )
        watch(self._search, self._fill_list, self._status)
        before = button("Previous sample", lambda: self.step(-1), self._status)
        after = button("Next sample", lambda: self.step(1), self._status)
        # One line a sample, in columns. No stop for Tab: in a list JupyterLab takes the arrow keys for itself.
        self._list = ipw.Select(
            rows=min(12, max(4, len(self._names))),
            tabbable=False,
            layout=ipw.Layout(width="98%"),
            description="Samples",
        )
        self._list.add_class("sievelight-list")
        self._list.style = {"description_width": "auto"}
        self._numbers, self._said = ipw.HTML(), ipw.HTML()
        self._live.tell = self._status.say_wrong
        self._live.before, self._live.after = after, self._search
        self._live.on_key(self._key)
        self._fill_list()
        watch(self._list, self._show, self._status)
        tables = ipw.HBox([self._numbers, self._said], layout=ipw.Layout(flex_flow="row wrap", grid_gap="0 24px"))
        self.view = ipw.VBox(
            [
                ipw.HTML(LIST_STYLE),
                row([self._search, before, after]),
                self._list,
                self._live.canvas,
                self._status.box,
                tables,
            ]
        )

    def _key(self, event: Any) -> None:
        by = {"up": -1, "left": -1, "down": 1, "right": 1}.get(event.key)
        if by is not None:
            self.step(by)

    @property
    def _listed(self) -> list[str]:
        """Names in the list, in its order."""
        return [name for _, name in self._list.options]

    def _fill_list(self) -> None:
        wanted = self._search.value.strip().casefold()
        names = [n for n in self._names if wanted in self._words_of(n)]
        if not names:
            self._status.say(f"Nothing in the study matches '{self._search.value}'.")
            return
        kept = self._list.value
        self._list.options = [(self._line(n), n) for n in names]
        self._list.value = kept if kept in names else names[0]
        if wanted:
            self._status.say(f"{len(names)} of {len(self._names)} match; {self._status.words}")

    def _words_of(self, name: str) -> str:
        """All that a search looks at."""
        sample = self._samples.get(name)
        found = " ".join(f"{f.severity} {f.finding}" for f in self._findings_of(name))
        return f"{name} {sample.batch if sample else 'no result'} {found}".casefold()

    def _line(self, name: str) -> str:
        """A sample as a line of columns: name, batch, the compared quantity, what was found."""
        sample = self._samples.get(name)
        widest = max(len(n) for n in self._names)
        batch = max((len(s.batch) for s in self.result.samples), default=0)
        number = self._number(sample) or "no result"
        found = [f.severity for f in self._findings_of(name)]
        counted = [
            f"{found.count(s)} {s}{'s' * (found.count(s) != 1)}" for s in ("error", "warning", "note") if s in found
        ]
        text = f"{name:<{widest}}  {(sample.batch if sample else ''):<{batch}}  {number:<27}  {', '.join(counted)}"
        return text.rstrip().replace(" ", " ")  # blanks that a list does not swallow

    def _number(self, sample: SampleResult | None) -> str:
        """The compared quantity with its unit; empty where there is none."""
        for key, estimate in (sample.summary if sample is not None else {}).items():
            if names_quantity(self.result.quantity, key):
                unit = key.removeprefix(self.result.quantity.removesuffix("_nm")).removeprefix("_")
                return f"{self.result.quantity.removesuffix('_nm')} = {_plain(estimate)} {unit.replace('_per_', '/')}".rstrip()
        return ""

    def _show(self) -> None:
        name, sample = self._list.value, self.selected
        if name is None:
            return
        with styled():
            for ax in (self._curve, self._residuals, self._sizes):
                ax.clear()
            if sample is not None:
                self._draw(sample)
            else:
                self._curve.text(0.5, 0.5, "no result: see the findings", transform=self._curve.transAxes, ha="center")
        self._live.redraw()
        self._numbers.value = _numbers(sample)
        self._said.value = _findings(self.findings)
        if sample is None:
            self._status.say(f"{name} has no result: see its findings.\n{HELP}")
        else:
            words = f"{name}{f', batch {sample.batch}' if sample.batch else ''}"
            number = self._number(sample)
            self._status.say(f"{words}: {number}\n{HELP}" if number else f"{words}\n{HELP}")

    def _draw(self, sample: SampleResult) -> None:
        size = sample.size
        if not np.any(np.asarray(sample.curve.intensity) > 0):
            self._curve.text(0.5, 0.5, "no intensity above zero", transform=self._curve.transAxes, ha="center")
            return
        plot.plot_curves({sample.name: sample.curve}, ax=self._curve)
        if size is None:
            self._sizes.text(0.5, 0.5, "no sizes: see the findings", transform=self._sizes.transAxes, ha="center")
            return
        fit = np.asarray(size.fit)
        self._curve.plot(
            size.q_per_nm, np.where(fit > 0, fit, np.nan), color="black", lw=0.9, zorder=5, label="fit of the sizes"
        )
        self._curve.legend()
        plot.plot_residuals(size.q_per_nm, np.asarray(size.residual), ax=self._residuals)
        self._curve.set_xlabel("")
        self._curve.tick_params(labelbottom=False)
        plot.plot_distribution(size, ax=self._sizes)
        self._sizes.legend(loc="upper right")


def _plain(estimate: Estimate) -> str:
    """Value ± standard uncertainty, the uncertainty with two digits."""
    if not math.isfinite(estimate.value):
        return "not known"
    if not (math.isfinite(estimate.u) and estimate.u > 0):
        return f"{estimate.value:.4g}"
    return f"{_written(estimate.value, estimate.u)} ± {_written(estimate.u, estimate.u)}"


def _written(number: float, u: float) -> str:
    """A number to the digits that its standard uncertainty leaves."""
    if not (math.isfinite(u) and u > 0 and math.isfinite(number)):
        return f"{number:.4g}"
    digits = 1 - math.floor(math.log10(u))
    size = max(abs(number), u)
    return f"{number:.{max(digits, 0)}f}" if digits <= 6 and size < 1e6 else f"{number:.{2 if size < 10 * u else 4}g}"


CELL = 'style="text-align:left;padding:1px 12px 1px 0;vertical-align:top"'


def _numbers(sample: SampleResult | None) -> str:
    if sample is None:
        return ""
    rows = "".join(
        f'<tr><th scope="row" {CELL}>{html.escape(name)}</th><td {CELL}>{_plain(e)}</td>'
        f"<td {CELL}>{_written(e.band95.low, e.u)} to {_written(e.band95.high, e.u)}</td></tr>"
        for name, e in sample.summary.items()
    )
    head = f'<tr><th scope="col" {CELL}>quantity</th><th scope="col" {CELL}>value ± u</th><th scope="col" {CELL}>95 % band</th></tr>'
    return (
        f'<table style="line-height:1.35"><caption style="text-align:left"><b>Numbers</b></caption>{head}{rows}</table>'
    )


def _findings(findings: list[Finding]) -> str:
    if not findings:
        return "<p>Nothing was found that a referee would object to.</p>"
    rows = "".join(
        f'<tr><th scope="row" {CELL}>{f.severity}</th><td {CELL}>{html.escape(f.finding)}'
        + (f"<br><i>{html.escape(f.evidence)}</i>" if f.evidence else "")
        + (f"<br>{html.escape(f.mend)}" if f.mend else "")
        + "</td></tr>"
        for f in findings
    )
    return f'<table style="line-height:1.35;max-width:620px"><caption style="text-align:left"><b>Findings</b></caption>{rows}</table>'
