# SPDX-License-Identifier: GPL-3.0-or-later
"""What reducing one sample gives: the curve, how it came about, its words, numbers, files and picture."""

from __future__ import annotations

from dataclasses import dataclass, field
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sievelight import curve as curves
from sievelight import plot
from sievelight._core import Averaged, Curve, DetectorGeometry
from sievelight.errors import input_error
from sievelight.files import make_folders, write_figure
from sievelight.study.findings import Finding
from sievelight.study.results import SampleResult
from sievelight.study.saved import write_curve

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PathName = str | PathLike[str]
PICTURES = (".png", ".svg", ".pdf", ".jpg")


@dataclass(frozen=True)
class ReducedFile:
    """A sample's curve and how it came about."""

    result: SampleResult
    averaged: Averaged  # the sample's counts in bins, before background and scale
    geometry: DetectorGeometry
    findings: list[Finding] = field(default_factory=list)
    words: list[str] = field(default_factory=list)  # on geometry and scale
    inputs: frozenset[Path] = frozenset()  # the files it was made from, which are never written over

    @property
    def curve(self) -> Curve:
        """The curve, with all its causes of error."""
        return self.result.curve

    @property
    def steps(self) -> list[dict[str, Any]]:
        """Every step of the chain: name, applied, parameters, factors and relative_u at low, middle and high q."""
        return self.result.steps

    @property
    def notes(self) -> list[str]:
        """What was assumed: the findings of severity "note" as sentences."""
        return [f.finding for f in self.findings if f.severity == "note"]

    def lines(self) -> list[str]:
        """The outcome in words."""
        c = self.curve
        u = curves.total_u(c)
        unit = {"relative": "in arbitrary units", "1/cm": "in 1/cm", "cm2/g": "in cm2/g"}[c.unit]
        out = [
            f"{self.result.name}: {c.q_per_nm.size} points from q = {c.q_per_nm[0]:.4g} to {c.q_per_nm[-1]:.4g} 1/nm, {unit}"
        ]
        for k in sorted({0, c.q_per_nm.size // 2, c.q_per_nm.size - 1}):
            out.append(f"  I({c.q_per_nm[k]:.4g} 1/nm) = {c.intensity[k]:.5g} ± {u[k]:.2g}")
        out.append("steps: " + ", ".join(s["name"] for s in self.steps if s["applied"]))
        out += [f"left out: {s['name']} ({s['note']})" for s in self.steps if not s["applied"]]
        return [*out, *self.words]

    def values(self) -> dict[str, Any]:
        """All numbers under their names, for JSON; None where a number is not known."""
        c, g, r = self.curve, self.geometry, self.result
        known = {"transmission": r.transmission, "thickness_mm": r.thickness_mm}
        numbers: dict[str, Any] = {}
        for name, estimate in known.items():
            sound = estimate.value == estimate.value
            numbers[name] = estimate.value if sound else None
            numbers[f"{name.removesuffix('_mm')}_u{'_mm' * name.endswith('_mm')}"] = estimate.u if sound else None
        return {
            "name": r.name,
            "unit": c.unit,
            "q_per_nm": c.q_per_nm.tolist(),
            "intensity": c.intensity.tolist(),
            "u": curves.total_u(c).tolist(),
            "pointwise_u": curves.pointwise_u(c).tolist(),
            "causes": sorted(c.causes),
            "counts": self.averaged.counts.tolist(),
            "pixels": self.averaged.pixels.tolist(),
            **numbers,
            "wavelength_nm": g.wavelength_nm,
            "distance_mm": g.distance_mm,
            "beam_center_px": [g.beam_center_x_px, g.beam_center_y_px],
            "pixel_size_mm": [g.pixel_size_x_mm, g.pixel_size_y_mm],
            "pitch_deg": g.pitch_deg,
            "yaw_deg": g.yaw_deg,
            "roll_deg": g.roll_deg,
            "steps": self.steps,
            "words": self.words,
            "findings": [f.__dict__ for f in self.findings],
        }

    def save(self, path: PathName, *, force: bool = False) -> Path:
        """Write the curve, whole or not at all: NXcanSAS, or comma-separated values where the suffix is .csv.

        Raises InputError when the file exists and `force` is not set, and always when it is one of the inputs.
        """
        target = self._target(path, force)
        make_folders(target.parent)
        if target.suffix.lower() == ".csv":
            curves.write_csv(target, self.curve)
        else:
            write_curve(target, self.result.name, self.geometry, self.result)
        return target

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the curve with its 68 % band."""
        return plot.plot_curves({self.result.name: self.curve}, ax=ax)

    def save_picture(self, path: PathName, *, force: bool = False) -> Path:
        """Write :meth:`plot`, whole or not at all, to a file whose suffix names the format; refusals as of :meth:`save`."""
        import matplotlib.pyplot as plt

        target = self._target(path, force)
        refuse_format(target)
        with plot.styled():
            figure: Any = self.plot().figure
            try:
                write_figure(target, figure)
            finally:
                plt.close(figure)
        return target

    def _target(self, path: PathName, force: bool) -> Path:
        target = Path(fspath(path))
        refuse_existing(target, force, inputs=self.inputs)
        return target

    def __repr__(self) -> str:
        return f"<ReducedFile {self.lines()[0]}, {len(self.findings)} findings>"


def refuse_existing(path: Path, force: bool, *, inputs: frozenset[Path] = frozenset()) -> None:
    """InputError when a file is there and may not be written over; an input never may."""
    if path.resolve() in inputs:
        raise input_error(f"'{path}' is one of the files that are read.", "Choose another name for the result.")
    if path.exists() and not force:
        raise input_error(f"'{path}' exists.", "Choose another name, or give --force (force=True) to write over it.")


def refuse_format(path: Path) -> None:
    """InputError when no picture can be written under this name."""
    if path.suffix.lower() not in PICTURES:
        raise input_error(f"'{path}' names no format of a picture.", f"Let it end in {', '.join(PICTURES)}.")
