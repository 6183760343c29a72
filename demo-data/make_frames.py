# SPDX-License-Identifier: GPL-3.0-or-later
"""Simulates the demonstration: detector frames, their measurement table and the truth behind them. ALL INVENTED.

    python make_frames.py [--out FOLDER] [--seed N] [--quick] [--scale-exposure F] [--scale-flux F]

Silica sorbent tiles that keep the air of museum display cases at an even humidity come from three kiln batches. Four
thin wafers are cut from each and measured in a ten-position changer. Kilns 1 and 2 have the same pores; those of
kiln 3 are 8 % larger. One more wafer of kiln 1 stands in a humidity cell while the air in it goes from dry to damp and
back: water condenses in its pores and leaves them, and the pores stay. The same --seed gives the same counts (with the same NumPy). See README.md beside this file.
"""

import argparse
import csv
import json
import os
import shutil
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, fields, replace
from math import exp, pi
from pathlib import Path

import numpy as np

import demo_files
import demo_physics as physics

HERE = Path(__file__).resolve().parent
Q_WINDOW_PER_NM = (0.075, 2.0)  # as in study.toml
NOMINAL = {  # what the instrument's files and study.toml say; the truth is physics.Instrument
    "wavelength_nm": 0.154187, "distance_mm": 600.0, "beam_x_px": 251.1, "beam_y_px": 298.4,
    "pixel_mm": 0.1, "sensor_mm": 0.45, "dead_time_s": 1.25e-7,
}  # fmt: skip
BATCHES = {"kiln 1": 1.00, "kiln 2": 1.00, "kiln 3": 1.08}  # size of the pores relative to kiln 1
X50_NM, SIGMA_LN, PHI = 14.0, 0.22, 0.28
SCATTER_X50, SCATTER_SIGMA_LN, SCATTER_PHI = 0.008, 0.01, 0.01  # between wafers of one batch, relative
SKELETAL_G_PER_CM3 = 2.20
CELL_TRANSMISSION = exp(-physics.MU_POLYIMIDE * 0.005)  # 0.05 mm of polyimide
MONITOR_NOISE, WEIGHING_NOISE = 0.001, 0.005  # relative standard deviations
THICKNESS_U_MM = 0.001
# The humidity cell: relative humidity of each exposure, up and down again, %, and how long the air is given to settle.
HUMIDITY_PERCENT = (10.0, 30.0, 50.0, 65.0, 74.0, 79.0, 81.5, 83.5, 85.5, 87.5, 89.5, 92.0, 96.0,
                    93.0, 89.0, 86.0, 83.0, 80.5, 78.0, 75.5, 72.5, 68.0, 50.0, 25.0)  # fmt: skip
NECK_SHARE = 0.6  # of a pore's radius: the neck through which it empties
SETTLING_S, HUMID_EXPOSURE_S = 1800.0, 20.0
STOP_RADIUS_PX, STOP_OFFSET_PX, STEM_HALF_PX, MASK_RIM_PX = 10.0, (0.6, -0.4), 1.5, 1.5


MODEL = {
    "wafer": "dSigma/dOmega = phi (1 - phi) contrast^2 <V P> + surface q^-4 + flat, in 1/cm; spheres, log-normal by volume, "
    "no interference between pores; the surface term is constant below 0.03 1/nm",
    "humidity cell": "a pore fills while the humidity rises past the one at which the Kelvin radius is the pore's, and "
    "empties while it falls past the one at which the Kelvin radius is the neck's; filled pores scatter with the "
    "contrast of silica against water; no film on the walls of the others",
    "transmission": "absorption only: of everything in the beam, relative to the empty beam",
    "left out": "scattering twice, structure factor, polychromatic light, flat-field response (1 everywhere)",
    "beam spot": "blurs the scattering of sample and cell, not the parasitic scattering; each pixel integrates over its area",
}


@dataclass(frozen=True)
class Row:
    """One line of the measurement table and what stands in the beam for it."""

    name: str
    role: str
    frames: int
    exposure_s: float
    storage: str  # see demo_files.storage_options
    dtype: str = "uint32"
    beam: bool = True
    cell: bool = True
    sample_mu_d: float = 0.0  # attenuation coefficient x thickness
    scattering_per_sr: Callable[[np.ndarray], np.ndarray] | None = None  # thickness x dSigma/dOmega at q
    columns: dict[str, object] = field(default_factory=dict)  # further columns of the table
    truth: dict[str, object] = field(default_factory=dict)
    stack: str = ""  # the file that holds this row's one exposure among others, "" = a file of its own


# ------------------------------------------------------------------------------------------- what is measured


def make_rows(seed: int) -> list[Row]:
    """All measurements in the order in which they were taken; the wafers of the batches take turns."""
    carbon = physics.GlassyCarbon()
    rows = [
        Row("dark", "dark", 6, 600.0, "gzip", "float32", beam=False, cell=False, columns={"note": "shutter closed"}),
        Row("empty-beam", "empty_beam", 6, 20.0, "plain", cell=False, columns={"position": 1, "note": "load 1"}),
        Row("empty-cell", "background", 6, 20.0, "lz4", columns={"position": 2, "note": "load 1"}),
        Row("silver-behenate", "calibrant", 1, 40.0, "gzip", "int32", sample_mu_d=1.05,
            scattering_per_sr=physics.silver_behenate_per_sr,
            columns={"position": 3, "material": "silver behenate", "background": "empty-cell", "note": "load 1"}),
        Row("glassy-carbon", "standard", 4, 30.0, "lz4", cell=False,
            sample_mu_d=physics.MU_GLASSY_CARBON * carbon.thickness_mm / 10.0,
            scattering_per_sr=lambda q: carbon.thickness_mm / 10.0 * carbon.intensity_per_cm(q),
            columns={"position": 4, "material": "glassy carbon", "background": "empty-beam", "note": "load 1; no cell",
                     "thickness_mm": "1.055", "thickness_u_mm": "0.005"},
            truth={"thickness_mm": carbon.thickness_mm}),
    ]  # fmt: skip
    rng = np.random.default_rng([seed, 1])
    wafers = [_make_wafer(rng, batch, letter) for batch in BATCHES for letter in "abcd"]
    turns = sorted(wafers, key=lambda row: row.name[-1])  # a of every kiln, then b, ...
    for turn, row in enumerate(turns):
        load, position = (1, 5 + turn) if turn < 6 else (2, turn - 5)
        row.columns.update(position=position, note=f"load {load}")
    return rows + turns + _humidity_cycle(seed)


def _humidity_cycle(seed: int) -> list[Row]:
    """One wafer of kiln 1 in the humidity cell: a row for every exposure of one stack."""
    wafer = _make_wafer(np.random.default_rng([seed, 4]), "kiln 1", "h")
    pores = physics.Pores(**{f.name: wafer.truth[f.name] for f in fields(physics.Pores)})
    thickness_mm, top = wafer.truth["thickness_mm"], HUMIDITY_PERCENT.index(max(HUMIDITY_PERCENT))
    rows = []
    for k, humidity in enumerate(HUMIDITY_PERCENT):
        kelvin = physics.kelvin_radius_nm(humidity)
        filled_below = 2.0 * kelvin / (1.0 if k <= top else NECK_SHARE)
        share = pores.volume_share_below(filled_below)
        columns = {c: v for c, v in wafer.columns.items() if c not in ("batch", "route")}
        rows.append(
            replace(
                wafer, name=f"humid-{k:02d}", frames=1, exposure_s=HUMID_EXPOSURE_S, stack="humidity-cycle", storage="lz4",
                sample_mu_d=wafer.sample_mu_d + physics.MU_WATER * pores.phi * share * thickness_mm / 10.0,
                scattering_per_sr=lambda q, below=filled_below: (
                    thickness_mm / 10.0 * pores.intensity_with_water_per_cm(q, below)
                ),
                columns=columns | {
                    "series": "humidity cycle", "frames": k, "relative_humidity_percent": humidity, "temperature_C": 25,
                    "time_s": f"{k * SETTLING_S:g}", "pore_fluid": "water", "note": "load 3, humidity cell",
                },
                truth={c: v for c, v in wafer.truth.items() if c != "batch"} | {
                    "relative_humidity_percent": humidity, "kelvin_radius_nm": kelvin, "filled_below_nm": filled_below,
                    "filled_share": share, "branch": "rising" if k <= top else "falling",
                },
            )
        )  # fmt: skip
    return rows


def _make_wafer(rng: np.random.Generator, batch: str, letter: str) -> Row:
    x50, sigma_ln, phi, thickness, measured, density = rng.standard_normal(6)
    pores = physics.Pores(
        x50_nm=X50_NM * BATCHES[batch] * exp(SCATTER_X50 * x50),
        sigma_ln=SIGMA_LN * (1.0 + SCATTER_SIGMA_LN * sigma_ln),
        phi=PHI * (1.0 + SCATTER_PHI * phi),
        surface_per_cm_nm4=0.008,
        flat_per_cm=0.05,
    )
    thickness_mm = 0.150 + 0.004 * thickness
    apparent = SKELETAL_G_PER_CM3 * (1.0 - pores.phi) * (1.0 + WEIGHING_NOISE * density)
    mu_d = physics.MU_SILICA_SOLID * (1.0 - pores.phi) * thickness_mm / 10.0
    low_nm, high_nm = 3.0 * pi / Q_WINDOW_PER_NM[1], pi / Q_WINDOW_PER_NM[0]
    return Row(
        name=f"k{batch[-1]}-{letter}", role="sample", frames=4, exposure_s=5.0,
        storage="lz4" if letter in "ac" else "gzip", sample_mu_d=mu_d,
        scattering_per_sr=lambda q: thickness_mm / 10.0 * pores.intensity_per_cm(q),
        columns={
            "batch": batch, "route": "gel, slow drying, 600 C",
            "thickness_mm": f"{thickness_mm + THICKNESS_U_MM * measured:.4f}",
            "thickness_u_mm": f"{THICKNESS_U_MM:.4f}", "background": "empty-cell", "composition": "SiO2",
            "skeletal_density_g_per_cm3": f"{SKELETAL_G_PER_CM3:.2f}", "apparent_density_g_per_cm3": f"{apparent:.4f}",
        },
        truth={
            "batch": batch, "thickness_mm": thickness_mm, **asdict(pores),
            "phi_one_minus_phi": pores.phi * (1.0 - pores.phi), "contrast_per_cm2": physics.SILICA_SLD_PER_CM2,
            "within_window": pores.percentiles_in_window(low_nm, high_nm),
        },
    )  # fmt: skip


# --------------------------------------------------------------------------------------------------- the detector


@dataclass(frozen=True)
class Detector:
    """What is not perfect about it; all arrays (rows, columns)."""

    open_share: np.ndarray  # 1 = free, 0 = behind the beamstop or its stem
    gap: np.ndarray
    dead: np.ndarray
    stuck: np.ndarray  # always reads the saturation value
    hot_per_s: np.ndarray
    pixel_mask: np.ndarray  # what the files confess: gaps, and only part of the defects
    drawn_mask: np.ndarray  # mask.h5: gaps and beamstop, slightly generous


def make_detector(seed: int, instrument: physics.Instrument) -> Detector:
    shape = (instrument.rows, instrument.columns)
    row, column = np.indices(shape)
    gap_rows, gap_columns = [(196, 202), (398, 404)], [(164, 168), (332, 336)]  # three by three modules

    def near_gap(rim: int) -> np.ndarray:
        spans = [(row >= a - rim) & (row < b + rim) for a, b in gap_rows]
        return np.any(spans + [(column >= a - rim) & (column < b + rim) for a, b in gap_columns], axis=0)

    x = column - instrument.beam_x_px - STOP_OFFSET_PX[0]
    y = row - instrument.beam_y_px - STOP_OFFSET_PX[1]
    beyond_stop = np.hypot(x, y) - STOP_RADIUS_PX
    beyond_stem = np.where(y > 0, np.abs(x) - STEM_HALF_PX, np.inf)
    beyond = np.minimum(beyond_stop, beyond_stem)  # distance from the shadow's edge, pixels; the edge is one pixel soft

    rng = np.random.default_rng([seed, 2])
    gap = near_gap(0)
    free = np.flatnonzero(~gap & (beyond > 3.0))
    picked = rng.choice(free, size=40 + 30 + 2, replace=False)
    hot, dead, stuck = picked[:40], picked[40:70], picked[70:]
    hot_per_s = np.zeros(shape)
    hot_per_s.flat[hot] = 50.0 * 100.0 ** rng.random(hot.size)  # 50 to 5000 counts/s
    flags = {name: np.zeros(shape, dtype=bool) for name in ("dead", "stuck")}
    flags["dead"].flat[dead] = True
    flags["stuck"].flat[stuck] = True
    pixel_mask = np.where(gap, demo_files.GAP, 0).astype(np.uint32)
    pixel_mask.flat[hot[:24]] |= demo_files.NOISY
    pixel_mask.flat[dead[:18]] |= demo_files.DEAD
    drawn = np.where(near_gap(1), demo_files.GAP, 0) | np.where(beyond < MASK_RIM_PX, demo_files.USER, 0)
    open_share = np.clip(beyond + 0.5, 0.0, 1.0)
    return Detector(open_share, gap, flags["dead"], flags["stuck"], hot_per_s, pixel_mask, drawn.astype(np.uint32))


def expected_rate(row: Row, pixels: physics.PixelMap, instrument: physics.Instrument, flux_per_s: float) -> np.ndarray:
    """Counts a second in a perfect detector without dark and beamstop, (rows, columns).

    E[N]/t = flux x factor x T_s T_c [d C dSigma/dOmega + cell + parasitic]: the wafer's own light leaves it at all depths
    (C), the upstream half of the cell and everything from the slits crosses it obliquely, the downstream half does
    not. One scattering event a photon. The beam spot blurs what sample and cell scatter."""
    if not row.beam:
        return np.zeros((instrument.rows, instrument.columns))
    q, path, rim = pixels.q_per_nm, pixels.path, pixels.rim
    across = np.exp(-row.sample_mu_d * (path - 1.0))
    scattered = np.zeros_like(q)
    if row.scattering_per_sr:
        grid = np.linspace(0.0, q.max() * 1.001, 3000)  # linear steps of 0.001 1/nm in ln I: error below 1e-5
        curve = np.interp(q, grid, np.log(row.scattering_per_sr(grid)))
        scattered += np.exp(curve) * physics.oblique_mean(path, row.sample_mu_d)
    if row.cell:
        scattered += physics.cell_per_sr(q) * 0.5 * (across + 1.0)
    sigma_px = instrument.beam_fwhm_mm / instrument.pixel_mm / 2.354820045
    inner = (slice(rim, -rim), slice(rim, -rim))
    slits = (physics.parasitic_per_sr(q, pixels.azimuth) * across)[inner]
    total = physics.fold_beam_spot(scattered, sigma_px, rim) + slits
    return flux_per_s * true_transmission(row) * pixels.factor[inner] * total


def true_transmission(row: Row) -> float:
    """Of everything in the beam, relative to the empty beam."""
    return exp(-row.sample_mu_d) * (CELL_TRANSMISSION if row.cell else 1.0)


def simulate_frames(
    row: Row, rate: np.ndarray, detector: Detector, instrument: physics.Instrument, rng: np.random.Generator
) -> np.ndarray:
    """Exposures of one measurement, (exposures, rows, columns), each counted on its own."""
    rate = rate * detector.open_share + instrument.dark_rate_per_s + detector.hot_per_s
    frames = np.empty((row.frames, *rate.shape), dtype=row.dtype)
    no_sensor = np.nan if row.dtype.startswith("float") else -1 if row.dtype == "int32" else np.iinfo(row.dtype).max
    for k in range(row.frames):
        counts = physics.count_events(rng, rate, row.exposure_s, instrument.dead_time_s)
        counts = np.minimum(counts, instrument.saturation_value)
        counts[detector.dead] = 0
        counts[detector.stuck] = instrument.saturation_value
        frames[k] = counts
        frames[k][detector.gap] = no_sensor
    return frames


# ----------------------------------------------------------------------------------------------------- the folder


def make_demo(
    out: Path, *, seed: int = 1, quick: bool = False, scale_exposure: float = 1.0, scale_flux: float = 1.0
) -> None:
    """Writes frames/*.h5, frames/mask.h5, measurements.csv, truth.json (and study.toml where it is not there yet)."""
    _check_folder(out)
    instrument = physics.Instrument()
    instrument = replace(instrument, flux_per_s=instrument.flux_per_s * scale_flux)
    rows = make_rows(seed)
    if quick:  # half the exposures, two wafers a kiln, no humidity cell; the truth of what is left stays as it was
        rows = [replace(r, frames=(r.frames + 1) // 2) for r in rows if r.role != "sample" or r.name[-1] in "ab"]
    rows = [replace(row, exposure_s=row.exposure_s * scale_exposure / scale_flux) for row in rows]
    detector, pixels = make_detector(seed, instrument), physics.map_pixels(instrument)
    (out / "frames").mkdir(parents=True, exist_ok=True)
    if out.resolve() != HERE and not (out / "study.toml").exists():
        shutil.copy(HERE / "study.toml", out / "study.toml")
    demo_files.write_mask(out / "frames" / "mask.h5", detector.drawn_mask)

    table, truth, stacks = [], {}, {}
    for index, row in enumerate(rows):
        started = time.perf_counter()
        rng = np.random.default_rng([seed, 3, *row.name.encode()])  # leaving a row out changes no other
        drift, *noise = rng.standard_normal(3)
        flux = instrument.flux_per_s * (1.0 + instrument.flux_drift * drift)
        monitors = _read_monitors(row, flux / instrument.flux_per_s, noise) if row.beam else {}
        frames = simulate_frames(row, expected_rate(row, pixels, instrument, flux), detector, instrument, rng)
        title = row.stack or row.name
        file = f"frames/{title}.h5"
        if row.stack:
            stacks.setdefault(title, []).append(frames)
            last = index + 1 == len(rows) or rows[index + 1].stack != row.stack
            frames = np.concatenate(stacks.pop(title)) if last else None
        if frames is not None:
            demo_files.write_frames(
                out / file, frames if len(frames) > 1 else frames[0], storage=row.storage, title=title, sample=title,
                exposure_s=row.exposure_s, monitor_per_s=float(monitors["incident_intensity"]) if monitors else None,
                pixel_mask=detector.pixel_mask, nominal=NOMINAL, saturation_value=instrument.saturation_value,
            )  # fmt: skip
        table.append(
            {"name": row.name, "role": row.role, "file": file, "exposure_s": f"{row.exposure_s:.10g}"}
            | monitors | ({} if row.role == "dark" else {"dark": "dark"}) | row.columns
        )  # fmt: skip
        truth[row.name] = {"role": row.role, "flux_per_s": flux if row.beam else 0.0, "exposure_s": row.exposure_s,
                           "frames": row.frames, "transmission": true_transmission(row) if row.beam else None,
                           "transmission_without_cell": exp(-row.sample_mu_d), **row.truth}  # fmt: skip
        _say(
            index + 1,
            len(rows),
            f"{row.name}  {row.frames} x {row.exposure_s:g} s  {time.perf_counter() - started:.2f} s",
        )
    _write_table(out / "measurements.csv", table)
    _write_text(out / "truth.json", json.dumps(_whole_truth(seed, instrument, detector, truth), indent=1) + "\n")


def _read_monitors(row: Row, flux_share: float, noise: list[float]) -> dict[str, str]:
    before = 1.0e6 * flux_share * (1.0 + MONITOR_NOISE * noise[0])
    after = 8.0e5 * flux_share * true_transmission(row) * (1.0 + MONITOR_NOISE * noise[1])
    values = {"incident_intensity": before, "transmitted_intensity": after}
    return {k: f"{v:.1f}" for k, v in values.items()} | {
        f"{k}_u": f"{MONITOR_NOISE * v:.1f}" for k, v in values.items()
    }


def _whole_truth(seed: int, instrument: physics.Instrument, detector: Detector, rows: dict) -> dict:
    low_nm, high_nm = 3.0 * pi / Q_WINDOW_PER_NM[1], pi / Q_WINDOW_PER_NM[0]
    batches = {}
    for batch, size in BATCHES.items():
        median = physics.Pores(X50_NM * size, SIGMA_LN, PHI, 0.008, 0.05)
        batches[batch] = {"x50_nm": median.x50_nm, "between_sample_sd_relative": SCATTER_X50,
                          "difference_from_kiln_1_percent": 100.0 * (size - 1.0),
                          "within_window": median.percentiles_in_window(low_nm, high_nm)}  # fmt: skip
    unconfessed = detector.pixel_mask == 0
    return {
        "note": demo_files.INVENTED,
        "seed": seed,
        "instrument": asdict(instrument),
        "nominal": NOMINAL,
        "model": MODEL,
        "size_window_nm": [low_nm, high_nm],
        "cell_transmission": CELL_TRANSMISSION,
        "batches": batches,
        "measurements": rows,
        "unflagged_row_column": {
            "hot": np.argwhere((detector.hot_per_s > 0) & unconfessed).tolist(),
            "dead": np.argwhere(detector.dead & unconfessed).tolist(),
            "stuck_at_saturation": np.argwhere(detector.stuck & unconfessed).tolist(),
        },
    }


def _check_folder(out: Path) -> None:
    # A table that is not ours is somebody's work: never overwritten.
    table, truth = out / "measurements.csv", out / "truth.json"
    if table.exists() and not (truth.exists() and demo_files.INVENTED in truth.read_text(encoding="utf-8")):
        raise SystemExit(
            f"{table} exists and was not written by this generator; nothing was changed.\n"
            "Choose an empty folder with --out, or move that table away."
        )


COLUMNS = (
    "name role batch route file frames exposure_s thickness_mm thickness_u_mm incident_intensity incident_intensity_u "
    "transmitted_intensity transmitted_intensity_u background dark material position composition "
    "skeletal_density_g_per_cm3 apparent_density_g_per_cm3 series relative_humidity_percent temperature_C time_s "
    "pore_fluid note"
).split()


def _write_table(path: Path, table: list[dict]) -> None:
    partial = path.with_suffix(".partial")
    with partial.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(table)
    os.replace(partial, path)


def _write_text(path: Path, text: str) -> None:
    partial = path.with_suffix(".partial")
    partial.write_text(text, encoding="utf-8")
    os.replace(partial, path)


def _say(done: int, total: int, text: str) -> None:
    if sys.stderr.isatty():  # a counter that stays on its line
        print(f"\r\x1b[K{done}/{total}  {text}", end="\n" if done == total else "", file=sys.stderr, flush=True)
    else:
        print(f"{done}/{total}  {text}", file=sys.stderr, flush=True)


def _positive(text: str) -> float:
    value = float(text)
    if not 0.0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"{text} is not a factor above 0 and below 1e6")
    return value


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Simulate the invented demonstration study.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to (default: beside this program)")
    parser.add_argument("--seed", type=int, default=1, help="start of the random numbers, 0 or above (default 1)")
    parser.add_argument("--quick", action="store_true", help="half the exposures, two wafers a kiln, no humidity cell")
    parser.add_argument("--scale-exposure", type=_positive, default=1.0, metavar="F", help="F times the exposure times")
    parser.add_argument("--scale-flux", type=_positive, default=1.0, metavar="F",
                        help="F times the flux for 1/F of the time: makes the dead time matter")  # fmt: skip
    options = parser.parse_args(arguments)
    if options.seed < 0:
        parser.error(f"--seed is {options.seed}; it must be 0 or above")
    make_demo(options.out, seed=options.seed, quick=options.quick, scale_exposure=options.scale_exposure,
              scale_flux=options.scale_flux)  # fmt: skip


if __name__ == "__main__":
    main()
