# SPDX-License-Identifier: GPL-3.0-or-later
"""The coverage table of the docs: every truth at three noise levels, and what is pooled over them.

    python tests/coverage/survey.py --repeats 200 --out survey.json      (long: about 0.4 s of a core a curve)
    python tests/coverage/survey.py --show survey.json [--picture coverage.png]

Every repeat draws its own noise and its own flat background: positive, none, or negative (what a subtraction leaves).
Stopping it loses nothing: rows are written as they come, and the same call goes on.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np
from scipy.signal import find_peaks

sys.path.insert(0, str(Path(__file__).parent))
from simulate import CONTRAST_PER_CM2, Case
from truths import HELD_OUT, NOISES, SHARP, TUNED, shape

KEYS = ("x10_nm", "x50_nm", "x90_nm", "mean_nm", "relative_width")


def one(name, noise, number):
    """One repeat: what is stated and whether it holds the truth, or the words of a refusal."""
    from sievelight import NumericalError
    from sievelight.distribution import invert

    rng = np.random.default_rng([number, round(1000 * noise), *name.encode()])
    level = float(rng.choice([1e-3, 0.0, -1e-3]))
    case = Case(shape(name), noise=noise, background=level)
    try:
        result = invert(case.curve(rng), contrast_per_cm2=CONTRAST_PER_CM2, seed=number)
    except NumericalError as refusal:
        return {"truth": name, "noise": noise, "number": number, "refused": str(refusal)}
    truth = case.truth(result.window_nm.low, result.window_nm.high)
    row = {"truth": name, "noise": noise, "number": number, "converged": result.converged,
           "two_modes": result.probability_two_modes, "in_gap": result.x50_in_gap}  # fmt: skip
    for key in KEYS:
        e, t = getattr(result, key), truth[key]
        row[key] = [e.value / t - 1, (e.band95.high - e.band95.low) / t, e.band68.low <= t <= e.band68.high,
                    e.band95.low <= t <= e.band95.high]  # fmt: skip
    q3 = case.density(result.diameter_nm, result.smoothing_ln_d)
    seen = q3 * result.diameter_nm > 0.05 * (q3 * result.diameter_nm).max()
    row["curve"] = float(np.mean((q3 >= result.q3_low95)[seen] & (q3 <= result.q3_high95)[seen]))
    return row


def survey(path, repeats, processes):
    done = [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []
    have = {(r["truth"], r["noise"], r["number"]) for r in done}
    wanted = [(t, n, k) for k in range(1, repeats + 1) for n in NOISES for t in (TUNED | HELD_OUT)]
    os.environ["SIEVELIGHT_THREADS"] = "1"
    with ProcessPoolExecutor(processes) as pool, open(path, "a") as file:
        for row in pool.map(one, *zip(*[w for w in wanted if w not in have], strict=True), chunksize=1):
            file.write(json.dumps(row, default=bool) + "\n")
            file.flush()


@cache
def modes_of(name):
    """Peaks of a truth in volume per ln D that stand out by 5 % of the highest and 30 % of themselves, as results count."""
    h = np.concatenate([[0.0], shape(name), [0.0]])
    places, found = find_peaks(h, prominence=0.05 * h.max())
    return int(np.sum(found["prominences"] >= 0.3 * h[places]))


def rows_of(path):
    return [json.loads(line) for line in Path(path).read_text().splitlines()]


def pooled(rows):
    """Coverage in % over rows, by key; medians of the rest."""
    out = {}
    for key in KEYS:
        used = [r for r in rows if not (key == "x50_nm" and r["in_gap"])]  # there x50 is refused
        if used:
            error, _, in68, in95 = (np.array([r[key][k] for r in used], float) for k in range(4))
            out[key] = {"c95": 100 * in95.mean(), "c68": 100 * in68.mean(), "bias": 100 * np.median(error),
                        "rmse": 100 * np.sqrt(np.mean(error**2)), "n": len(used)}  # fmt: skip
    out["band_over_ideal"] = _band_over_ideal(rows)
    out["curve"] = 100 * float(np.mean([r["curve"] for r in rows]))
    out["false_second_peak"] = 100 * float(
        np.mean([r["two_modes"] > 0.95 for r in rows if modes_of(r["truth"]) == 1] or [0])
    )
    return out


def _band_over_ideal(rows):
    """Median over truths and summaries of the stated 95 % width over that of the errors seen (3.92 of their rms)."""
    ratios = []
    for name in {r["truth"] for r in rows}:
        for key in ("x50_nm", "mean_nm", "relative_width"):
            some = [r[key] for r in rows if r["truth"] == name and not (key == "x50_nm" and r["in_gap"])]
            if len(some) > 4:
                error, width = np.array([v[:2] for v in some], float).T
                ratios.append(np.median(width) / (3.92 * np.sqrt(np.mean(error**2))))
    return float(np.median(ratios)) if ratios else np.nan


def table(rows):
    refused = [r for r in rows if "refused" in r]
    rows = [r for r in rows if "refused" not in r]
    lines = [
        f"{'truth':28s} {'noise':>5s} {'n':>4s}  {'x10':>12s} {'x50':>12s} {'x90':>12s} {'mean':>12s} {'width':>12s}  curve"
    ]
    groups = [("chosen on", [n for n in TUNED if n not in SHARP]), ("held out", [n for n in HELD_OUT if n not in SHARP]),
              ("sharp edges", list(SHARP))]  # fmt: skip

    def line(label, noise, some):
        p = pooled(some)
        cells = " ".join(
            f"{p[k]['c95']:3.0f}/{p[k]['c68']:2.0f} {p[k]['bias']:+5.2f}" if k in p else f"{'refused':>12s}"
            for k in KEYS
        )
        return f"{label:28s} {100 * noise:4.0f}% {len(some):4d}  {cells}  {p['curve']:5.0f}"

    for group, names in groups:
        for noise in NOISES:
            some = [r for r in rows if r["truth"] in names and r["noise"] == noise]
            if some:
                p = pooled(some)
                lines.append(
                    line(f"ALL {group}", noise, some)
                    + f"  false second peak {p['false_second_peak']:.1f} %, band / ideal {p['band_over_ideal']:.2f}"
                )
        for name in names:
            for noise in NOISES:
                some = [r for r in rows if r["truth"] == name and r["noise"] == noise]
                if some:
                    lines.append(line(name, noise, some))
    lines.append("each cell: coverage of the 95 / 68 % interval and median error, in %")
    lines += [f"refused: {r['truth']}, {100 * r['noise']:.0f} %: {r['refused'].splitlines()[0]}" for r in refused]
    return "\n".join(lines)


def picture(rows, path):
    rows = [r for r in rows if "refused" not in r]
    import matplotlib

    matplotlib.use("agg")
    import matplotlib.pyplot as plt

    names = [n for n in (TUNED | HELD_OUT) if n not in SHARP] + list(SHARP)
    fig, axes = plt.subplots(1, 4, figsize=(11, 6.2), sharey=True)
    colors, marks = ["#006BA4", "#C85200", "#595959"], ["o", "s", "^"]
    for ax, key, label in zip(
        axes,
        ("mean_nm", "x50_nm", "relative_width", "curve"),
        ("mean", "x50", "relative width", "density, point by point"),
    ):
        ax.axvspan(93, 98, color="0.9", lw=0)
        for k, noise in enumerate(NOISES):
            for place, name in enumerate(names):
                some = [r for r in rows if r["truth"] == name and r["noise"] == noise]
                p = pooled(some) if some else {}
                value = p.get("curve") if key == "curve" else p.get(key, {}).get("c95")
                if value is not None:
                    ax.plot(value, place + 0.22 * (k - 1), marks[k], ms=4, color=colors[k],
                            label=f"{100 * noise:.0f} % noise" if place == 0 else None)  # fmt: skip
        ax.axvline(95, color="black", lw=0.7)
        ax.set(xlim=(40, 101), xlabel=f"coverage / %\n{label}")
        for side in ("top", "right"):
            ax.spines[side].set_visible(False)
    axes[0].set_yticks(range(len(names)), names, fontsize=8)
    axes[0].invert_yaxis()
    axes[0].axhline(len(names) - 2.5, color="0.5", lw=0.7, ls=":")
    axes[0].legend(loc="lower left", frameon=False, fontsize=8)
    fig.tight_layout()
    fig.savefig(path, dpi=130)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=200)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--show", type=Path)
    parser.add_argument("--picture", type=Path)
    options = parser.parse_args()
    if options.out:
        survey(options.out, options.repeats, options.processes)
    shown = options.show or options.out
    if shown is None:
        parser.error("give --out to measure, or --show a file that was measured")
    rows = rows_of(shown)
    print(table(rows))
    if options.picture:
        picture(rows, options.picture)


if __name__ == "__main__":
    main()
