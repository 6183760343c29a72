# SPDX-License-Identifier: GPL-3.0-or-later
"""A real in-situ series as a study: ten frames of a nickel alloy ageing at 775 °C against its empty heater.

Source: NeXus International Advisory Committee, example data collection (open data; its README gives the geometry and the
mean counts). The file gives neither the sample's transmission nor the heater's monitor, so the heater's factor is fitted
at 8-12 1/nm, where the figures recorded with the data give 0.82.
"""

import re

import h5py
import numpy as np
import pytest

from sievelight.study import run_study

STUDY = """
[study]
title = "Ageing of a nickel alloy"
[instrument]
wavelength_nm = 0.059040224
distance_mm = 540.8
beam_center_px = [-5.65, 99.95]   # the file labels its axes the other way round
[detector]
mask = "mask.h5"
[mask]
find_defects = false
[reduce]
bins = 150
q_min_per_nm = 0.37
q_max_per_nm = 12.0
normalize_by = "monitor"
fit_background_per_nm = [8.0, 12.0]
[distribution]
method = "evidence"
q_range_per_nm = [0.37, 3.0]
power_law = true
"""


@pytest.fixture(scope="module")
def ageing(reference_data, tmp_path_factory):
    source = reference_data / "ageing-series-frames.h5"
    if not source.exists():
        pytest.skip(f"no {source.name} in the reference data")
    folder = tmp_path_factory.mktemp("ageing")
    mask = np.zeros((195, 487), dtype="u4")
    mask[:, :6] = 1  # in the beamstop's shadow
    mask[98:110, 384:393] = 1  # a crystal's reflection
    mask[58, 112] = 1  # a hot pixel
    with h5py.File(folder / "mask.h5", "w") as file:
        file["mask"] = mask
    rows = ["name,role,file,dataset,frames,exposure_s,background,time_s,series"]
    rows.append(f"heater,background,{source},/entry/instrument/detector/blank,,30,,,")
    rows += [f"frame-{i},sample,{source},,{i},30,heater,{60 * t},ageing" for i, t in enumerate((3, 30, 58, 86, 112, 140, 168, 196, 223, 240))]  # fmt: skip
    (folder / "measurements.csv").write_text("\n".join(rows) + "\n")
    (folder / "study.toml").write_text(STUDY)
    return run_study(folder / "study.toml")


def test_all_frames_reduce_and_the_fitted_factor_is_a_finding(ageing):
    assert [s.name for s in ageing.samples] == [f"frame-{i}" for i in range(10)]
    factors = [f for f in ageing.findings if "factor" in f.evidence and f.measurement.startswith("frame-")]
    assert len(factors) == 10
    # Per exposure, frame 0 against the heater of equal exposure: the figure recorded with the data is 0.82. The curve is
    # per monitor (2934680 for frame 0), the heater's per second, so the factor is 0.82 x 30 s / monitor; the window's
    # corners decide the third figure.
    value = float(re.search(r"factor (\S+)", factors[0].evidence).group(1))
    assert value * 2934680 / 30 == pytest.approx(0.82, abs=0.015)
    assert any("no transmission" in f.finding.lower() for f in ageing.findings)


def test_scattering_near_the_beam_grows_with_ageing(ageing):
    means, sds = [], []
    for s in ageing.samples:
        chosen = (s.curve.q_per_nm >= 0.37) & (s.curve.q_per_nm < 0.6)
        weight = 1 / s.curve.private_u[chosen] ** 2
        means.append(np.sum(weight * s.curve.intensity[chosen]) / weight.sum())
        sds.append(weight.sum() ** -0.5)
    for i in range(9):
        assert means[i + 1] - means[i] > -2 * np.hypot(sds[i], sds[i + 1])
    assert means[-1] - means[0] > 20 * np.hypot(sds[0], sds[-1])


def test_the_series_changes_early_and_keeps_changing(ageing):
    (series,) = ageing.series
    assert series.variable == "time_s" and len(series.values) == 10
    # Growth near the beam is seen with 20 standard deviations at the end: the change is found well before it, and stays.
    first = series.change.first
    assert first is not None and first <= 5
    assert all(f.changed for f in series.change.frames[first:])
    assert any(f.measurement == "ageing" and "changes" in f.finding for f in ageing.findings)
