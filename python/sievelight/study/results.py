# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study found: one result a sample, the comparison, the findings, and where everything came from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from sievelight._core import Curve, Estimate, Range, SizeDistribution
from sievelight.errors import input_error, nearest
from sievelight.study.findings import Finding
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement
from sievelight.tables import needs
from sievelight.units import unit_of

if TYPE_CHECKING:
    from sievelight.compare import BatchComparison
    from sievelight.study.further import Further
    from sievelight.study.series import SeriesResult

Array = NDArray[np.float64]


def estimate_to_list(estimate: Estimate) -> list[float]:
    """An estimate as [value, u, low 68, high 68, low 95, high 95]."""
    return [estimate.value, estimate.u, *estimate.band68, *estimate.band95]


def estimate_from_list(numbers: list[float]) -> Estimate:
    """The estimate that `estimate_to_list` wrote."""
    estimate = Estimate()
    estimate.value, estimate.u = numbers[0], numbers[1]
    estimate.band68, estimate.band95 = Range(*numbers[2:4]), Range(*numbers[4:6])
    return estimate


def names_quantity(name: str, key: str) -> bool:
    """Whether a name means the summary column `key`: written with its unit ('x50_nm') or without ('x50')."""
    return name in (key, key.rsplit("_", 1)[0])


# What a notebook shows of each sample, and of how many.
SHOWN = ("x10_nm", "x50_nm", "x90_nm", "relative_width", "volume_fraction", "specific_surface_m2_per_g")
MOST_ROWS = 50


def _short(estimate: Estimate | None) -> str:
    return "" if estimate is None else f"{estimate.value:.4g} ± {estimate.u:.2g}"


@dataclass
class SampleResult:
    """Everything that is known of one sample."""

    name: str
    batch: str
    route: str
    transmission: Estimate
    thickness_mm: Estimate
    curve: Curve
    size: SizeDistribution | None = None
    summary: dict[str, Estimate] = field(default_factory=dict)  # in the order of summary.csv
    numbers: dict[str, float] = field(default_factory=dict)  # plain numbers beside the estimates
    influence: dict[str, Array] = field(default_factory=dict)  # quantity -> (n) d quantity / d I
    budget: dict[str, float] = field(default_factory=dict)  # cause -> share of the variance of x50
    steps: list[dict[str, Any]] = field(default_factory=list)  # what each correction changed
    details: dict[str, Any] = field(default_factory=dict)  # windows of the fits, for people

    def keep(self, name: str, estimate: Any) -> None:
        """Put a number read from the curve into the summary, with its influence where it has one; NaN is left out."""
        plain = Estimate()
        plain.value, plain.u, plain.band68, plain.band95 = estimate.value, estimate.u, estimate.band68, estimate.band95
        if not math.isfinite(plain.value):
            return
        self.summary[name] = plain
        influence = np.asarray(estimate.influence)
        if influence.size == self.curve.q_per_nm.size:
            self.influence[name] = influence

    def plot(self, *, kind: Literal["density", "fit", "residual", "curve"] = "density", ax: Any = None) -> Any:
        """Draw the sizes, their fit, its residuals, or the curve alone (which is all where there are no sizes)."""
        from sievelight import plot

        if kind == "curve" or self.size is None:
            return plot.plot_curves({self.name: self.curve}, ax=ax)
        return self.size.plot(kind=kind, ax=ax)

    def quantity(self, name: str) -> Estimate | None:
        """A summary by its name with or without its unit ('x50' or 'x50_nm')."""
        for key, value in self.summary.items():
            if names_quantity(name, key):
                return value
        return None


@dataclass
class StudyResult:
    """The outcome of a whole study.

    Examples
    --------
    >>> import sievelight as sl
    >>> result = sl.run_study(sl.examples.study("invented"))
    >>> isinstance(result, sl.StudyResult), result.failed
    (True, [])
    >>> [f"{sample.name} {sample.quantity('x50').value:.1f}" for sample in result.samples]
    ['1a 8.0', '1b 8.1', '2a 9.6', '2b 9.7']
    """

    settings: Settings
    measurements: list[Measurement]
    samples: list[SampleResult]
    findings: list[Finding]
    comparison: BatchComparison | None
    compared: list[str]  # names of the samples that the comparison used
    quantity: str
    output: Path
    record: dict[str, Any]
    calibration: dict[str, Any] = field(default_factory=dict)  # geometry, its uncertainty, ring points, counts, mask
    scale: dict[str, Any] = field(default_factory=dict)  # absolute scale: value, u, where from
    redone: list[str] = field(default_factory=list)  # samples computed in this run; the others stood already
    series: list[SeriesResult] = field(default_factory=list)  # rows that share a `series`, along their variable
    further: Further | None = None  # beside the verdict: quantities, distances, recipes, the next experiment

    @property
    def failed(self) -> list[str]:
        """Names of the measurements without a result."""
        return [f.measurement for f in self.findings if f.severity == "error"]

    @property
    def report(self) -> Path:
        """Path of the report for people."""
        return self.output / "report.html"

    def sample(self, name: str) -> SampleResult:
        """The result of one sample; InputError names the nearest name there is."""
        for s in self.samples:
            if s.name == name:
                return s
        raise input_error(
            f"the study has no result of a sample '{name}'.", nearest(name, (s.name for s in self.samples))
        )

    def to_dataframe(self, *, what: Literal["samples", "batches", "findings", "series"] = "samples") -> Any:
        """One of the study's tables as a pandas DataFrame: what summary.csv, batches.csv, findings.csv or series.csv hold.

        Raises InputError where pandas is not installed or `what` is another word.
        """
        from sievelight.study.outputs import all_tables

        pandas = needs("pandas", "to_dataframe()")
        tables = all_tables(self)
        key = "summary" if what == "samples" else what
        if key not in tables:
            raise input_error(
                f"to_dataframe(what={what!r}) is not there.", f"Known: {', '.join(('samples', *tables))}."
            )
        columns, rows = tables[key]
        return pandas.DataFrame(rows, columns=list(columns))

    def plot(self, *, ax: Any = None, label: str = "") -> Any:
        """Draw the compared samples, batch means, margin and verdicts; without a comparison, each sample's x50 and the like.

        Returns the axes. Raises InputError where no sample has the compared quantity.
        """
        from sievelight import plot

        chosen = [s for s in self.samples if not self.compared or s.name in self.compared]
        chosen = [s for s in chosen if s.quantity(self.quantity) is not None]
        if not chosen:
            raise input_error(f"no sample of the study has '{self.quantity}'.", "Look at its findings.")
        unit = unit_of(next(k for k in chosen[0].summary if names_quantity(self.quantity, k)))
        return plot.plot_batches(
            [s.name for s in chosen],
            [s.batch for s in chosen],
            [s.quantity(self.quantity) for s in chosen],
            self.comparison,
            label=label or (f"{self.quantity.removesuffix('_nm')} / {unit}" if unit else self.quantity),
            ax=ax,
        )

    def _repr_html_(self) -> str:
        head = f"<p><b>{escape(self.settings.study.title or 'Study')}</b>: {escape(repr(self))}</p>"
        names = [q for q in SHOWN if any(q in s.summary for s in self.samples)]
        titles = "".join(f"<th>{escape(t)}</th>" for t in ("sample", "batch", *names))
        rows = "".join(
            f"<tr><td>{escape(s.name)}</td><td>{escape(s.batch)}</td>"
            + "".join(f"<td>{_short(s.summary.get(q))}</td>" for q in names)
            + "</tr>"
            for s in self.samples[:MOST_ROWS]
        )
        more = f"<p>and {len(self.samples) - MOST_ROWS} more samples</p>" if len(self.samples) > MOST_ROWS else ""
        found = "".join(
            f"<li>{escape(f'{f.severity}: {f.measurement}: {f.finding}')}</li>" for f in self.findings[:MOST_ROWS]
        )
        return f"{head}<table><tr>{titles}</tr>{rows}</table>{more}<ul>{found}</ul>"

    def __repr__(self) -> str:
        verdicts = ", ".join(f"{p.batch}: {p.verdict}" for p in self.comparison.pairs) if self.comparison else "none"
        return (
            f"StudyResult({len(self.samples)} samples, verdicts: {verdicts}, {len(self.findings)} findings, "
            f"report: {self.report})"
        )
