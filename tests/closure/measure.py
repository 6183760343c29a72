# SPDX-License-Identifier: GPL-3.0-or-later
"""Measure how well the reduction closes on the simulator, and print the tables.

    python tests/closure/measure.py --seeds 5 [--first 1] [--each]

Pooled chi squared per point of EXPERIMENTS simulated experiments for each seed, and for every step of the chain chi
squared with the step and without it.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from closure.physics import Expectation
from closure.reduction import Reduced, Reducer, carbon, reduce_experiment
from closure.setups import random_setup
from closure.simulate import measure
from closure.step_cases import step_cases

EXPERIMENTS, BINS = 100, 100


def experiment(seed, number, *, noise=True):
    """One simulated experiment and its reduction; without noise everything is as told and counts are their means."""
    rng = np.random.default_rng([seed, number])
    setup = random_setup(number, rng, carbon())
    return setup, reduce_experiment(measure(setup, rng if noise else Expectation()), bins=BINS)


@dataclass(frozen=True)
class Pooled:
    """Sums over experiments; the scale is that of the curves over the truth beside the standard's own error."""

    chi2: float
    n: int
    points_chi2: float
    points_n: int
    scale: float
    scale_u: float
    scale_chi2: float  # mean over experiments of ((scale - 1)/u)^2


def pool(results: list[Reduced]) -> Pooled:
    points = [r.chi2_of_points() for r in results]
    scale, u = np.array([r.scale() for r in results]).T
    relative = u / scale  # u grows with the scale that came out: as it is, it would favour the low ones
    weight = relative**-2 / np.sum(relative**-2)
    return Pooled(
        sum(r.chi2() for r in results),
        sum(r.truth.size for r in results),
        sum(p[0] for p in points),
        sum(p[1] for p in points),
        float(weight @ scale),
        float(np.sum(relative**-2) ** -0.5),
        float(np.mean(((scale - 1) / u) ** 2)),
    )


@dataclass(frozen=True)
class Detection:
    step: str
    geometry: str
    counts: float
    n: int
    chi2_with: float
    chi2_without: float
    probability_with: float
    probability_without: float


def detect(step, seed=1):
    """The case of a step, reduced with it and without it."""
    case = step_cases(carbon())[step]
    taken = measure(case.setup, np.random.default_rng([seed, *step.encode()]))
    whole = Reducer(taken, bins=80).run()
    short = Reducer(taken, bins=80, off=case.off, without=case.without).run()
    return Detection(
        step,
        case.geometry,
        whole.sample_counts,
        whole.truth.size,
        whole.chi2() / whole.truth.size,
        short.chi2(own_counts=case.own_counts) / short.truth.size,
        whole.probability(),
        short.probability(own_counts=case.own_counts),
    )


def detection_row(d: Detection) -> str:
    return (
        f"{d.step:18s} {d.geometry:12s} {d.counts:8.2g} {d.n:4d} {d.chi2_with:9.3f} {d.chi2_without:10.4g}"
        f" {d.probability_with:9.2g} {d.probability_without:9.2g}"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=1, help="number of the first seed")
    parser.add_argument("--each", action="store_true", help="print every experiment")
    options = parser.parse_args()
    print(f"{'seed':>4s} {'n':>6s} {'chi2/n':>7s} {'points':>7s} {'scale':>8s} {'u':>7s} {'scale chi2':>10s}")
    for seed in range(options.first, options.first + options.seeds):
        results = []
        for number in range(EXPERIMENTS):
            setup, result = experiment(seed, number)
            results.append(result)
            if options.each:
                n, (points, dof), (scale, u) = result.truth.size, result.chi2_of_points(), result.scale()
                print(
                    f"{number:4d} {setup.sample.form:9s} {setup.sample.rotation_deg:5.1f} {setup.scale:11s}"
                    f" chi2/n {result.chi2() / n:6.3f} points {points / dof:6.3f} scale {scale:.4f} ({u:.4f})"
                )
        p = pool(results)
        print(
            f"{seed:4d} {p.n:6d} {p.chi2 / p.n:7.4f} {p.points_chi2 / p.points_n:7.4f} {p.scale:8.5f} {p.scale_u:7.5f}"
            f" {p.scale_chi2:10.3f}"
        )
    print(
        f"\n{'step':18s} {'geometry':12s} {'counts':>8s} {'n':>4s} {'chi2/n':>9s} {'without':>10s} {'P':>9s} P without"
    )
    for step in step_cases(carbon()):
        print(detection_row(detect(step)))


if __name__ == "__main__":
    main()
