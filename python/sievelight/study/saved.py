# SPDX-License-Identifier: GPL-3.0-or-later
"""A sample's result on disk: its curve and distribution for every reader, and the checkpoint that gives it back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from sievelight import curve as curves
from sievelight import distribution
from sievelight._core import Curve, DetectorGeometry
from sievelight.files import make_folders, safe_name
from sievelight.study.findings import Finding, Findings
from sievelight.study.results import SampleResult, estimate_from_list, estimate_to_list


def _paths(output: Path, name: str) -> tuple[Path, Path]:
    return output / "curves" / f"{safe_name(name)}.h5", output / "distributions" / f"{safe_name(name)}.h5"


def products_exist(output: Path, result: SampleResult) -> bool:
    """Whether a sample's files are there: its curve, and its distribution where it has one."""
    curve_path, size_path = _paths(output, result.name)
    return curve_path.exists() and (result.size is None or size_path.exists())


def write_products(output: Path, title: str, geometry: DetectorGeometry | None, result: SampleResult) -> None:
    """Write a sample's curve (NXcanSAS) and distribution (NeXus), each whole or not at all."""
    curve_path, size_path = _paths(output, result.name)
    make_folders(curve_path.parent)
    write_curve(curve_path, f"{title}: {result.name}", geometry, result)
    if result.size is not None:
        make_folders(size_path.parent)
        distribution.write_distribution(size_path, result.size, title=result.name)


def write_curve(path: Path, title: str, geometry: DetectorGeometry | None, result: SampleResult) -> None:
    """Write a sample's curve with its steps and its instrument as NXcanSAS."""
    curves.write_nxcansas(
        path,
        result.curve,
        title=title,
        sample_name=result.name,
        thickness_mm=result.thickness_mm.value,
        transmission=result.transmission.value,
        **_instrument(geometry),
        steps=[
            (
                s["name"],
                s["equation"],
                {
                    "applied": str(s["applied"]),
                    "parameters": s["parameters"],
                    "source": s["source"],
                    "note": s["note"],
                    "relative_u": ", ".join(f"{x:.3g}" for x in s["relative_u"]),
                },
            )
            for s in result.steps
        ],
    )


def _instrument(g: DetectorGeometry | None) -> dict[str, Any]:
    if g is None:  # a curve that came reduced
        return {}
    return {
        "wavelength_nm": g.wavelength_nm,
        "distance_mm": g.distance_mm,
        "beam_center_px": (g.beam_center_x_px, g.beam_center_y_px),
        "pixel_size_mm": (g.pixel_size_x_mm, g.pixel_size_y_mm),
        "pitch_deg": g.pitch_deg,
        "yaw_deg": g.yaw_deg,
        "roll_deg": g.roll_deg,
    }


def to_checkpoint(result: SampleResult, own: Findings) -> dict[str, Any]:
    """Everything of a sample that a later run needs, as plain values and arrays."""
    c = result.curve
    return {
        "name": result.name,
        "batch": result.batch,
        "route": result.route,
        "transmission": estimate_to_list(result.transmission),
        "thickness_mm": estimate_to_list(result.thickness_mm),
        "curve": {
            "arrays": {
                k: np.asarray(getattr(c, k))
                for k in (
                    "q_per_nm",
                    "intensity",
                    "private_u",
                    "q_low_per_nm",
                    "q_high_per_nm",
                    "q_resolution_per_nm",
                    "slit_length_per_nm",
                    "slit_width_per_nm",
                )
            },
            "unit": c.unit,
            "causes": [[cause_id, cause.kind, np.asarray(cause.u)] for cause_id, cause in c.causes.items()],
        },
        "size": result.size.to_dict() if result.size is not None else None,
        "summary": {k: estimate_to_list(v) for k, v in result.summary.items()},
        "numbers": result.numbers,
        "influence": result.influence,
        "budget": result.budget,
        "steps": result.steps,
        "details": result.details,
        "findings": [[f.severity, f.measurement, f.finding, f.evidence, f.mend] for f in own.items],
    }


def from_checkpoint(saved: dict[str, Any]) -> tuple[SampleResult, Findings]:
    """The result and findings that `to_checkpoint` described."""
    stored = saved["curve"]
    c = Curve(**stored["arrays"], unit=stored["unit"])
    c.causes = {cause_id: curves.Cause(kind, u) for cause_id, kind, u in stored["causes"]}
    result = SampleResult(
        name=saved["name"],
        batch=saved["batch"],
        route=saved["route"],
        transmission=estimate_from_list(saved["transmission"]),
        thickness_mm=estimate_from_list(saved["thickness_mm"]),
        curve=c,
        size=distribution.SizeDistribution.from_dict(saved["size"]) if saved["size"] is not None else None,
        summary={k: estimate_from_list(v) for k, v in saved["summary"].items()},
        numbers=saved["numbers"],
        influence=saved["influence"],
        budget=saved["budget"],
        steps=saved["steps"],
        details=saved["details"],
    )
    return result, Findings([Finding(*f) for f in saved["findings"]])
