# SPDX-License-Identifier: GPL-3.0-or-later
"""What the notebooks share: the invented demo's frames, simulated once, and the truth that the simulator kept.

    folder = demo_study()            # a folder of your own: study.toml, measurements.csv, frames/, truth.json
    truth = read_truth(folder)       # every true value; the analysis never sees it
    check("distance / mm", 603.38, 603.4, u=0.03)    # beside the truth, and stops where they disagree

The simulator in demo-data shares no code with the package.
"""

import atexit
import hashlib
import json
import shutil
import sys
import tempfile
import textwrap
from pathlib import Path

DEMO = Path(__file__).resolve().parent.parent / "demo-data"
sys.path.insert(0, str(DEMO))

import numpy as np  # noqa: E402

import demo_files  # noqa: E402
import demo_physics as physics  # noqa: E402
import make_frames as simulator  # noqa: E402


def demo_study(**options) -> Path:
    """A fresh temporary folder with the demo's study; options are those of `make_frames.make_demo` (quick, seed, ...).

    The folder lives as long as the notebook's kernel. The frames are simulated once and kept in the system's folder for
    temporary files, as long as the simulator and the options stay the same.
    """
    sources = b"".join(path.read_bytes() for path in sorted(DEMO.glob("*.py")))
    key = hashlib.sha256(sources + repr((sorted(options.items()), np.__version__)).encode()).hexdigest()[
        :16
    ]
    kept = Path(tempfile.gettempdir()) / f"sievelight-demo-{key}"
    if not kept.is_dir():
        made = Path(tempfile.mkdtemp(dir=kept.parent, prefix=f"{kept.name}-"))
        _quietly(simulator.make_demo, made, **options)
        try:
            made.rename(kept)
        except OSError:  # another notebook was first
            shutil.rmtree(made)
    folder = Path(tempfile.mkdtemp(prefix="sievelight-notebook-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    shutil.copytree(kept, folder, dirs_exist_ok=True)
    shutil.copy(DEMO / "study.toml", folder / "study.toml")
    return folder


def read_truth(folder: Path) -> dict:
    """What the simulator put in: instrument, batches, every measurement."""
    return json.loads((folder / "truth.json").read_text(encoding="utf-8"))


def true_intensity_per_cm(folder: Path, name: str, q_per_nm: np.ndarray) -> np.ndarray:
    """The scattering of a wafer as the simulator knows it, without noise and blur, 1/cm."""
    return true_pores(folder, name).intensity_per_cm(np.asarray(q_per_nm))


def true_pores(folder: Path, name: str) -> physics.Pores:
    """The pores of a wafer: log-normal spheres by volume, with the surface of the grains and a flat level."""
    known = read_truth(folder)["measurements"][name]
    return physics.Pores(
        **{key: known[key] for key in ("x50_nm", "sigma_ln", "phi", "surface_per_cm_nm4", "flat_per_cm")}
    )


def check(what: str, value: float, true: float, *, u: float, most: float = 3.0) -> None:
    """Show a result beside the truth, and stop the notebook where they lie more than `most` standard uncertainties apart."""
    away = (value - true) / u
    print(
        f"{what}: {value:.5g} ± {u:.2g}, true {true:.5g}; {abs(away):.1f} standard uncertainties {'above' if away > 0 else 'below'}"
    )
    assert abs(away) <= most, f"{what} is not what the simulator put in"


def say(lines) -> None:
    """Print sentences, each broken at 100 letters."""
    for line in lines:
        print(textwrap.fill(line, 100, subsequent_indent="    "))


def simulate_sample(
    folder: Path, name: str, intensity_per_cm, *, thickness_mm=0.15, exposure_s=5.0, frames=4, seed=1
) -> dict:
    """Add the frames of one more wafer to a demo study; `intensity_per_cm(q_per_nm)` is its scattering, 1/cm.

    It stands in the same instrument, with the same cell, as the wafers of the demo; its solid is 72 % of the volume. Gives
    the cells of its row in the measurement table.
    """
    instrument = physics.Instrument()
    row = simulator.Row(
        name, "sample", frames, exposure_s, "gzip",
        sample_mu_d=physics.MU_SILICA_SOLID * 0.72 * thickness_mm / 10.0,
        scattering_per_sr=lambda q: thickness_mm / 10.0 * intensity_per_cm(q),
    )  # fmt: skip
    detector, pixels = _instrument_parts()
    rng = np.random.default_rng([seed, *name.encode()])
    rate = simulator.expected_rate(row, pixels, instrument, instrument.flux_per_s)
    monitors = simulator._read_monitors(row, 1.0, list(rng.standard_normal(2)))
    demo_files.write_frames(
        folder / "frames" / f"{name}.h5", simulator.simulate_frames(row, rate, detector, instrument, rng),
        storage="gzip", title=name, sample=name, exposure_s=exposure_s,
        monitor_per_s=float(monitors["incident_intensity"]), pixel_mask=detector.pixel_mask,
        nominal=simulator.NOMINAL, saturation_value=instrument.saturation_value,
    )  # fmt: skip
    return {"name": name, "role": "sample", "file": f"frames/{name}.h5", "exposure_s": f"{exposure_s:g}",
            "thickness_mm": f"{thickness_mm:g}", "thickness_u_mm": "0.001", "background": "empty-cell",
            "dark": "dark"} | monitors  # fmt: skip


_parts: list = []


def _instrument_parts():
    if not _parts:
        instrument = physics.Instrument()
        _parts.extend((simulator.make_detector(1, instrument), physics.map_pixels(instrument)))
    return _parts


def _quietly(call, *arguments, **options):
    """Without the simulator's line for every file."""
    said, simulator._say = simulator._say, lambda *_: None
    try:
        return call(*arguments, **options)
    finally:
        simulator._say = said
