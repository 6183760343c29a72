# SPDX-License-Identifier: GPL-3.0-or-later
"""Shared by the tests of whole studies: edit the study file, find a result, write frames."""

import h5py


def say(folder, section, text):
    path = folder / "study.toml"
    path.write_text(path.read_text().replace(f"[{section}]", f"[{section}]\n{text}", 1))


def sample(result, name):
    return next(s for s in result.samples if s.name == name)


def said(result, name, severity="warning"):
    return " | ".join(
        f"{f.finding} {f.evidence} {f.mend}"
        for f in result.findings
        if f.measurement == name and f.severity == severity
    )


def write_frame(path, counts, exposure_s, **instrument):
    with h5py.File(path, "w") as file:
        entry = file.create_group("entry")
        entry.attrs["NX_class"] = "NXentry"
        detector = entry.create_group("instrument/detector")
        entry["instrument"].attrs["NX_class"] = "NXinstrument"
        detector.attrs["NX_class"] = "NXdetector"
        detector["data"] = counts
        detector["count_time"] = exposure_s
        detector["count_time"].attrs["units"] = "s"
