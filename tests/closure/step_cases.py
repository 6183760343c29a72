# SPDX-License-Identifier: GPL-3.0-or-later
"""For every step of the chain an experiment whose geometry and counts show that the step is needed.

All effects are on in each; the case makes its own step matter. At small angles several steps are below 1e-3, so theirs
are wide.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from closure.physics import Geometry
from closure.setups import spheres, table_curve
from closure.simulate import Layer, Sample, Setup

SMALL = Geometry(0.154187, 1200.0, 0.172, (60.3, 55.8), (2.0, -1.5, 3.0))  # 2theta to 1.2 degrees
WIDE = Geometry(0.154187, 40.0, 0.172, (20.3, 62.8), (3.0, -4.0, 2.0))  # 2theta to 30 degrees


@dataclass(frozen=True)
class StepCase:
    setup: Setup
    geometry: str
    off: tuple[str, ...] = ()  # switched off by name
    without: tuple[str, ...] = ()  # or given its neutral value, where it cannot be switched off
    own_counts: bool = True  # False: the curve as if its counts carried no error


def base(table, geometry, **changes):
    wide = geometry is WIDE
    radius, level = (1.0, 40.0) if wide else (15.0, 300.0)
    setup = Setup(
        geometry=geometry,
        rows=120,
        columns=140,
        truth=lambda q: level * (spheres(q, radius) + 0.02),
        standard=table_curve(table),
        standard_relative_u=table[2],
        wall_scattering=lambda q: 0.03 + 0 * q,
        parasitic=lambda q: 0.2 * np.exp(-((q / 0.5) ** 2)),
        sample=Sample(mu_per_cm=8.0),
        counts_per_pixel=200.0,
        background_scale_u=0.005,
        load=0.02,
        flat_sd=0.02,
        flat_counts=2e4,
        sensor=Layer("sensor", 40.0, 0.32, 0.02),
        air=(Layer("air", 0.01, geometry.distance_mm, 0.02), Layer("window", 8.0, 0.05, 0.02)),
        polarisation=(0.6, 0.01, 0.0),
    )
    return replace(setup, **changes)


def step_cases(table) -> dict[str, StepCase]:
    """Name of the step -> its case."""

    def small(step, **changes):
        return StepCase(base(table, SMALL, **changes), "small angle", off=(step,))

    def wide(step, **changes):
        return StepCase(base(table, WIDE, **changes), "wide angle", off=(step,))

    def neutral(step):
        return StepCase(base(table, SMALL), "small angle", without=(step,))

    return {
        "mask": neutral("mask"),
        "counts": StepCase(base(table, SMALL), "small angle", own_counts=False),
        "dead time": small("dead time", load=0.15),
        "dark": small("dark", dark_per_pixel=10.0, counts_per_pixel=100.0),
        # Without times the dark means nothing either, so here there is none to speak of.
        "exposure and flux": replace(
            neutral("exposure and flux"),
            setup=base(
                table,
                SMALL,
                scale="direct beam",
                dark_per_pixel=1e-3,
                load=0.0,
                exposures_s=(0.4, 0.9),
                cell_exposure_s=4.0,
            ),
        ),
        "flat field": small("flat field", flat_sd=0.1, counts_per_pixel=500.0),
        "sensor efficiency": wide("sensor efficiency", sensor=Layer("sensor", 10.0, 0.32, 0.02)),
        "flight path": wide("flight path", air=(Layer("gas", 0.1, 40.0, 0.02), Layer("window", 20.0, 0.1, 0.02))),
        "solid angle": wide("solid angle"),
        "polarisation": wide("polarisation", polarisation=(0.95, 0.01, 0.0)),
        "transmission": small("transmission", sample=Sample(mu_per_cm=14.0)),
        "background": small("background"),
        "self-absorption": wide("self-absorption", sample=Sample(mu_per_cm=14.0, rotation_deg=-15.0)),
        "thickness": small("thickness", sample=Sample(mu_per_cm=8.0, thickness_mm=0.4)),
        "absolute scale": small("absolute scale"),
        "dispersant": StepCase(
            base(table, SMALL, solvent=lambda q: 3.0 + 0 * q, solvent_share=0.95, solvent_share_u=0.005),
            "small angle",
            without=("dispersant",),
        ),
    }
