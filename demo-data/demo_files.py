# SPDX-License-Identifier: GPL-3.0-or-later
"""HDF5/NeXus files of the invented demonstration: one file a measurement, laid out by the NeXus dictionary (h5py)."""

import os
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np

try:
    import hdf5plugin
except ImportError:  # the frames then come as shuffle + gzip
    hdf5plugin = None

INVENTED = "invented demonstration data, simulated; nothing here was measured"

# Bits of NXdetector/pixel_mask in the NeXus dictionary.
GAP, DEAD, NOISY, USER = 1 << 0, 1 << 1, 1 << 4, 1 << 8


def storage_options(storage: str, shape: tuple[int, ...]) -> dict:
    """How h5py shall store a data set: "plain" (contiguous), "gzip" (byte shuffle + gzip) or "lz4" (bitshuffle-LZ4,
    or gzip where hdf5plugin is missing); compressed ones have one chunk an exposure."""
    if storage == "plain":
        return {}
    chunks = (1, *shape[-2:])[-len(shape) :]
    if storage == "lz4" and hdf5plugin is not None:
        return {"chunks": chunks, **hdf5plugin.Bitshuffle(cname="lz4")}
    return {"chunks": chunks, "compression": "gzip", "compression_opts": 4, "shuffle": True}


def write_frames(
    path: Path,
    frames: np.ndarray,
    *,
    storage: str,
    title: str,
    sample: str,
    exposure_s: float,
    monitor_per_s: float | None,
    pixel_mask: np.ndarray,
    nominal: dict[str, float],
    saturation_value: int,
) -> None:
    """One measurement. frames: (rows, columns) or (exposures, rows, columns); nominal: what the instrument believes."""
    exposures = frames.shape[0] if frames.ndim == 3 else 1
    per_exposure = exposures if frames.ndim == 3 else ()

    def fill(file: h5py.File) -> None:
        entry = _group(file, "entry", "NXentry")
        file.attrs["default"] = "entry"
        file.attrs["note"] = INVENTED
        entry["title"] = f"{title} ({INVENTED})"
        _group(entry, "sample", "NXsample")["name"] = sample
        instrument = _group(entry, "instrument", "NXinstrument")
        instrument["name"] = "invented laboratory small-angle instrument"
        source = _group(instrument, "source", "NXsource")
        source["probe"] = "x-ray"
        source["type"] = "Rotating Anode X-ray"
        monochromator = _group(instrument, "monochromator", "NXmonochromator")
        _number(monochromator, "wavelength", nominal["wavelength_nm"], "nm")

        detector = _group(instrument, "detector", "NXdetector")
        data = detector.create_dataset("data", data=frames, **storage_options(storage, frames.shape))
        data.attrs["units"] = "counts"
        data.attrs["interpretation"] = "image"
        _number(detector, "count_time", np.full(per_exposure, exposure_s), "s")
        detector.create_dataset("pixel_mask", data=pixel_mask, chunks=pixel_mask.shape, compression="gzip")
        _number(detector, "saturation_value", saturation_value)
        _number(detector, "dead_time", nominal["dead_time_s"], "s")
        detector["countrate_correction_applied"] = np.uint8(0)
        detector["flatfield_applied"] = np.uint8(0)
        detector["pixel_mask_applied"] = np.uint8(0)
        detector["sensor_material"] = "Si"
        _number(detector, "sensor_thickness", nominal["sensor_mm"] * 1e-3, "m")
        _number(detector, "x_pixel_size", nominal["pixel_mm"] * 1e-3, "m")
        _number(detector, "y_pixel_size", nominal["pixel_mm"] * 1e-3, "m")
        _number(detector, "distance", nominal["distance_mm"], "mm")
        _number(detector, "beam_center_x", nominal["beam_x_px"], "pixel")
        _number(detector, "beam_center_y", nominal["beam_y_px"], "pixel")

        if monitor_per_s is not None:
            monitor = _group(entry, "monitor", "NXmonitor")
            monitor["mode"] = "timer"
            _number(monitor, "preset", exposure_s, "s")
            _number(monitor, "data", np.full(per_exposure, monitor_per_s * exposure_s), "counts")
        plot = _group(entry, "data", "NXdata")
        plot.attrs["signal"] = "data"
        plot["data"] = h5py.SoftLink("/entry/instrument/detector/data")
        entry.attrs["default"] = "data"

    _write_whole(path, fill)


def write_mask(path: Path, pixel_mask: np.ndarray) -> None:
    """A mask drawn by hand around gaps and beamstop, as NXdetector/pixel_mask."""

    def fill(file: h5py.File) -> None:
        file.attrs["note"] = INVENTED
        detector = _group(
            _group(_group(file, "entry", "NXentry"), "instrument", "NXinstrument"), "detector", "NXdetector"
        )
        detector.create_dataset("pixel_mask", data=pixel_mask, chunks=pixel_mask.shape, compression="gzip")

    _write_whole(path, fill)


def _group(parent: h5py.Group, name: str, nexus_class: str) -> h5py.Group:
    group = parent.create_group(name)
    group.attrs["NX_class"] = nexus_class
    return group


def _number(parent: h5py.Group, name: str, value, units: str | None = None) -> None:
    data = parent.create_dataset(name, data=value)
    if units:
        data.attrs["units"] = units


def _write_whole(path: Path, fill: Callable[[h5py.File], None]) -> None:
    # Written under another name first: a run that is killed leaves no half file under the final one.
    partial = path.with_suffix(".partial")
    with h5py.File(partial, "w") as file:
        fill(file)
    os.replace(partial, path)
