# SPDX-License-Identifier: GPL-3.0-or-later
"""Measure how often the bands hold the truth, and print the table.

    python tests/coverage/measure.py --repeats 200 --processes 2 [--only NAME ...]

Each cell counts, over independent noise, how often the stated 95 % (and 68 %) interval holds the true value. With n
repeats the binomial standard error at 95 % is sqrt(0.0475 / n): 1.5 % for 200.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from simulate import cases, wrong_models

SUMMARIES = ("x10_nm", "x50_nm", "x90_nm", "mean_nm", "relative_width", "phi_one_minus_phi")


def repeat(name, number, **more):
    """Invert one noisy curve of a case and say which intervals hold the truth."""
    case = (cases() | wrong_models())[name]
    rng = np.random.default_rng([number, *name.encode()])
    start = time.process_time()
    result = case.invert(rng, seed=number, **more)
    seconds = time.process_time() - start
    truth = case.truth(result.window_nm.low, result.window_nm.high)
    row = {
        "seconds": seconds,
        "ess": result.effective_draws.get("x50_nm", np.nan),
        "converged": result.converged,
        "chi2": result.chi2_per_point,
        "two_modes": result.probability_two_modes,
        "warnings": list(result.warnings),
        # The curve was found not to be described: points scatter more than stated, or residuals run.
        "objection": result.noise_scale > 1 or result.runs_probability < 1e-3,
    }
    for key in SUMMARIES:
        e, t = getattr(result, key), truth[key]
        row[key] = (e.value / t - 1, e.u / t, e.band68.low <= t <= e.band68.high, e.band95.low <= t <= e.band95.high)
    q3 = case.density(result.diameter_nm, result.smoothing_ln_d)
    per_ln = q3 * result.diameter_nm
    seen = per_ln > 0.05 * per_ln.max()
    row["curve"] = float(np.mean((q3 >= result.q3_low95)[seen] & (q3 <= result.q3_high95)[seen]))
    return row


def run(names, repeats, processes, **more):
    """All repeats of all cases: name -> list of rows, whatever the number of processes."""
    os.environ["SIEVELIGHT_THREADS"] = "1" if processes > 1 else os.environ.get("SIEVELIGHT_THREADS", "")
    if processes <= 1:
        return {name: [repeat(name, k, **more) for k in range(1, repeats + 1)] for name in names}
    with ProcessPoolExecutor(processes) as pool:
        jobs = {name: [pool.submit(repeat, name, k, **more) for k in range(1, repeats + 1)] for name in names}
        return {name: [job.result() for job in rows] for name, rows in jobs.items()}


def table(results):
    """The measured coverage as text."""
    lines = [
        f"{'case':32s} {'n':>4s}  "
        + " ".join(f"{k.replace('_nm', ''):>17s}" for k in SUMMARIES)
        + "  curve  conv  ESS<400  chi2/n  objection  CPU s"
    ]
    for name, rows in results.items():
        cells = []
        for key in SUMMARIES:
            error, u, in68, in95 = (np.array([r[key][k] for r in rows], dtype=float) for k in range(4))
            ratio = np.sqrt(np.mean(u**2)) / error.std() if len(rows) > 1 else np.nan
            cells.append(f"{100 * in95.mean():3.0f}/{100 * in68.mean():2.0f} {100 * error.mean():+5.2f} {ratio:4.2f}")
        lines.append(
            f"{name:32s} {len(rows):4d}  "
            + " ".join(f"{c:>17s}" for c in cells)
            + f"  {100 * np.mean([r['curve'] for r in rows]):4.0f}  {100 * np.mean([r['converged'] for r in rows]):4.0f}"
            + f"  {sum(r['ess'] < 400 for r in rows):6d}  {np.mean([r['chi2'] for r in rows]):6.3f}"
            + f"  {100 * np.mean([r['objection'] for r in rows]):6.0f} %"
            + f"  {np.mean([r['seconds'] for r in rows]):4.2f}"
        )
    return "\n".join(
        [
            *lines,
            "each cell: coverage of the 95 / 68 % interval in %, mean error in %, stated / true sd; objection: how often the "
            "residuals speak",
        ]
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=100)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--only", nargs="*", help="names of cases; default all")
    parser.add_argument("--wrong", action="store_true", help="models that are wrong instead of the cases")
    parser.add_argument("--method", default="sampled", choices=("sampled", "evidence"))
    options = parser.parse_args()
    known = wrong_models() if options.wrong else cases()
    print(table(run(options.only or list(known), options.repeats, options.processes, method=options.method)))


if __name__ == "__main__":
    main()
