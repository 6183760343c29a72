# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves from Python: values, arithmetic, files. h5py and nexusformat read what is written."""

import copy
import csv
import math
import pickle

import h5py
import nexusformat.nexus as nx
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import sievelight
from sievelight import curve as curves
from sievelight.curve import Cause, Curve, Factor

ARRAYS = (
    "q_per_nm",
    "intensity",
    "private_u",
    "q_low_per_nm",
    "q_high_per_nm",
    "q_resolution_per_nm",
    "slit_length_per_nm",
    "slit_width_per_nm",
)


def some_curve(unit="1/cm", n=12, slit=False):
    edges = np.geomspace(0.05, 3.0, n + 1)
    q = np.sqrt(edges[:-1] * edges[1:])
    intensity = 30.0 / (1 + (4 * q) ** 4) + 0.2
    return Curve(
        q_per_nm=q,
        intensity=intensity,
        private_u=0.02 * np.sqrt(intensity),
        causes={
            "blank counts": Cause("pointwise", -0.01 * (1 + q)),
            "transmission": Cause("coherent", 0.012 * intensity),
            "absolute scale": Cause("coherent", 0.0258 * intensity),
        },
        q_low_per_nm=edges[:-1],
        q_high_per_nm=edges[1:],
        q_resolution_per_nm=0.03 * q,
        slit_length_per_nm=np.full(n, 0.4) if slit else None,
        slit_width_per_nm=np.full(n, 0.004) if slit else None,
        unit=unit,
    )


def assert_same(a, b):
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)
    assert a.unit == b.unit
    assert {i: c.kind for i, c in a.causes.items()} == {i: c.kind for i, c in b.causes.items()}
    for cause_id, cause in a.causes.items():
        np.testing.assert_array_equal(cause.u, b.causes[cause_id].u, err_msg=cause_id)


@pytest.mark.parametrize("slit", [False, True])
def test_a_curve_is_a_value(slit):
    curve = some_curve(slit=slit)
    assert len(curve) == 12
    assert_same(pickle.loads(pickle.dumps(curve)), curve)
    assert_same(copy.deepcopy(curve), curve)
    with pytest.raises(ValueError, match="read-only"):
        curve.intensity[0] = 1.0
    with pytest.raises((AttributeError, TypeError)):
        curve.causes["other"] = Cause("coherent", curve.intensity)
    curve.intensity = 2 * curve.intensity
    curve.causes = {**curve.causes, "distance": Cause("coherent", curve.q_per_nm)}
    curves.check(curve)
    assert sorted(curve.causes) == ["absolute scale", "blank counts", "distance", "transmission"]
    assert "12 points" in repr(curve)
    assert "absolute scale, blank counts" in repr(curve)


def test_errors_carry_problem_and_mend():
    q = np.array([0.1, 0.2])
    with pytest.raises(sievelight.InputError, match="the intensity has 1 points but q has 2") as caught:
        Curve(q_per_nm=q, intensity=q[:1])
    assert caught.value.mend
    assert isinstance(caught.value, ValueError)
    with pytest.raises(sievelight.InputError, match="'m/s' is not a unit of intensity"):
        Curve(q_per_nm=q, intensity=q, unit="m/s")
    with pytest.raises(sievelight.InputError, match="'common' is not a kind of cause"):
        Cause("common", q)
    bad = some_curve()
    bad.intensity = np.full(12, np.nan)
    with pytest.raises(sievelight.InputError, match="the intensity is nan"):
        curves.check(bad)


def test_a_curve_minus_itself_shares_nothing():
    curve = some_curve()
    zero = curve - curve
    for cause in zero.causes.values():
        assert not cause.u.any()
    np.testing.assert_allclose(zero.private_u, math.sqrt(2) * curve.private_u, rtol=1e-14)
    np.testing.assert_array_equal((curve + curve).causes["transmission"].u, 2 * curve.causes["transmission"].u)


# Source: GUM 5.2.2, eq. (13): covariance of a linear map. NumPy does the matrix algebra; rounding only.
@given(k=st.floats(-5, 5), relative_u=st.floats(0, 0.2), group=st.integers(1, 5))
def test_covariance_follows_the_law_of_propagation(k, relative_u, group):
    curve = some_curve()
    scaled = curves.scale(curve, Factor(k, {"thickness": relative_u}))
    law = k**2 * curves.covariance(curve) + relative_u**2 * np.outer(curve.intensity, curve.intensity)
    np.testing.assert_allclose(curves.covariance(scaled), law, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(curves.total_u(scaled) ** 2, np.diag(law), rtol=1e-12, atol=1e-15)
    width = curve.q_high_per_nm - curve.q_low_per_nm
    rows = np.arange(12) // group
    average = np.where(rows == np.arange(rows[-1] + 1)[:, None], width, 0.0)
    average /= average.sum(axis=1, keepdims=True)
    merged = curves.rebin(curve, group=group)
    np.testing.assert_allclose(merged.intensity, average @ curve.intensity, rtol=1e-13)
    np.testing.assert_allclose(
        curves.covariance(merged), average @ curves.covariance(curve) @ average.T, rtol=1e-11, atol=1e-15
    )


def test_the_budget_adds_up_and_a_common_scale_cancels_in_a_ratio():
    a = some_curve()
    b = curves.scale(some_curve(), 0.5)
    ja, jb = 1 / (a.intensity * len(a)), 1 / (b.intensity * len(b))
    budget = curves.variance_by_cause(ja, a)
    assert sorted(budget) == ["absolute scale", "blank counts", "counts", "transmission"]
    assert sum(budget.values()) == pytest.approx(ja @ curves.covariance(a) @ ja, rel=1e-12)
    shared = curves.covariance_of_summaries(ja, a, jb, b)
    assert shared == pytest.approx(ja @ curves.covariance(a, b) @ jb, rel=1e-12)
    scales = 0.0258**2 + 0.012**2
    assert shared == pytest.approx(scales + ja**2 @ (0.01 * (1 + a.q_per_nm)) ** 2, rel=1e-12)


def test_crop_and_share():
    curve = some_curve()
    part = curves.crop(curve, q_low_per_nm=0.2)
    assert part.q_per_nm[0] >= 0.2
    assert part.q_per_nm[-1] == curve.q_per_nm[-1]
    blank = curves.share(curve, "blank 2 counts")
    assert not blank.private_u.any()
    np.testing.assert_allclose(curves.total_u(blank), curves.total_u(curve), rtol=1e-14)
    with pytest.raises(sievelight.InputError, match="no point lies between"):
        curves.crop(curve, q_low_per_nm=50)


@pytest.mark.parametrize("unit", ["1/cm", "cm2/g", "relative"])
def test_a_file_gives_back_the_same_curve(tmp_path, unit):
    curve = some_curve(unit)
    path = tmp_path / "curve.h5"
    steps = [("dark", "dark current taken off", {"exposure": "30 s", "scale": 1.5}), ("thickness", "", {})]
    curves.write_nxcansas(
        path,
        curve,
        title="Silica",
        sample_name="Z41-b",
        thickness_mm=1.02,
        transmission=0.41,
        wavelength_nm=0.154187,
        distance_mm=612.3,
        steps=steps,
        notes=["the blank was scaled"],
    )
    (found,) = curves.read_curves(path)
    assert_same(found.curve, curve)
    info = found.info
    assert (info.title, info.run, info.sample_name) == ("Silica", "Silica", "Z41-b")
    assert (info.thickness_mm, info.transmission) == (1.02, 0.41)
    assert (info.instrument.wavelength_nm, info.instrument.distance_mm) == (0.154187, 612.3)
    assert info.steps[0].terms == [("exposure", "30 s"), ("scale", "1.5")]
    assert info.notes == ["the blank was scaled"]
    first = path.read_bytes()
    curves.write_nxcansas(path, found.curve, title="Silica", sample_name="Z41-b")
    curves.write_nxcansas(tmp_path / "again.h5", curve, title="Silica", sample_name="Z41-b")
    assert path.read_bytes() == (tmp_path / "again.h5").read_bytes() != first


# Source: NXcanSAS application definition 1.1 (required groups, fields and attributes; from memory, and as the example
# files of the canSAS working group have them).
def test_the_file_has_what_nxcansas_asks_for(tmp_path):
    curve = some_curve()
    curves.write_nxcansas(tmp_path / "c.h5", curve, title="t", run="r", sample_name="s", wavelength_nm=0.15)
    with h5py.File(tmp_path / "c.h5") as file:
        entry = file[file.attrs["default"]]
        assert entry.attrs["NX_class"] == "NXentry"
        assert entry.attrs["canSAS_class"] == "SASentry"
        assert entry.attrs["version"] == "1.1"
        assert entry["definition"][()] == b"NXcanSAS"
        assert (entry["title"][()], entry["run"][()]) == (b"t", b"r")
        data = entry[entry.attrs["default"]]
        assert data.attrs["NX_class"] == "NXdata"
        assert data.attrs["canSAS_class"] == "SASdata"
        assert data.attrs["signal"] == "I"
        assert data.attrs["I_axes"] == "Q"
        assert list(data.attrs["axes"]) == ["Q"]
        assert data.attrs["Q_indices"] == 0
        assert data["Q"].attrs["units"] == "1/nm"
        assert data["Q"].attrs["resolutions"] == "Qdev"
        assert data["I"].attrs["units"] == "1/cm"
        assert data["I"].attrs["uncertainties"] == "Idev"
        np.testing.assert_array_equal(data["Idev"], curves.pointwise_u(curve))
        np.testing.assert_array_equal(data["Qdev"], curve.q_resolution_per_nm)
        factor = data[data["I"].attrs["scaling_factor"]]
        assert factor[()] == 1.0
        assert data[factor.attrs["uncertainties"]][()] == pytest.approx(0.0258, rel=1e-12)
        causes = {d.attrs["id"]: (d.attrs["kind"], d[()]) for name, d in data.items() if name.startswith("cause_")}
        assert sorted(causes) == sorted(curve.causes)
        for cause_id, (kind, u) in causes.items():
            assert kind == curve.causes[cause_id].kind
            np.testing.assert_array_equal(u, curve.causes[cause_id].u)
        for name, nx_class, cansas_class in [
            ("sample", "NXsample", "SASsample"),
            ("instrument", "NXinstrument", "SASinstrument"),
            ("instrument/detector", "NXdetector", "SASdetector"),
            ("instrument/source", "NXsource", "SASsource"),
        ]:
            assert entry[name].attrs["NX_class"] == nx_class
            assert entry[name].attrs["canSAS_class"] == cansas_class
        assert entry["sample/name"][()] == b"s"
        assert entry["instrument/source/incident_wavelength"].attrs["units"] == "nm"


# Source: nexusformat, the NeXus community's general reader.
def test_a_generic_nexus_reader_finds_signal_axis_and_errors(tmp_path):
    curve = some_curve()
    curves.write_nxcansas(tmp_path / "c.h5", curve, title="t")
    tree = nx.nxload(tmp_path / "c.h5")
    data = tree.get_default()
    np.testing.assert_array_equal(data.nxsignal.nxdata, curve.intensity)
    assert data.nxsignal.attrs["units"] == "1/cm"
    np.testing.assert_array_equal(data.nxaxes[0].nxdata, curve.q_per_nm)
    np.testing.assert_array_equal(data.nxerrors.nxdata, curves.pointwise_u(curve))
    assert tree["entry"].nxclass == "NXentry"


def test_reads_text_and_refuses_other_files(tmp_path):
    (tmp_path / "c.dat").write_text("# q I u\n0.01 5 0.5\n0.02 4 0.4\n")
    found = curves.read_text_curve(tmp_path / "c.dat", q_unit="1/A", intensity_unit="relative")
    np.testing.assert_allclose(found.curve.q_per_nm, [0.1, 0.2])
    assert found.has_uncertainty
    with pytest.raises(sievelight.DataError, match="neither NXcanSAS"):
        curves.read_curves(tmp_path / "c.dat")
    with h5py.File(tmp_path / "frame.h5", "w") as file:
        file["x"] = np.zeros((3, 4))
    with pytest.raises(sievelight.DataError, match="holds no curve"):
        curves.read_curves(tmp_path / "frame.h5")
    with pytest.raises(sievelight.DataError, match="cannot be written"):
        curves.write_nxcansas(tmp_path / "none" / "c.h5", some_curve())


def test_a_slit_is_a_property_of_the_curve():
    slit, pinhole = some_curve(slit=True), some_curve()
    with pytest.raises(sievelight.InputError, match="one curve was measured with a slit"):
        slit - pinhole
    with pytest.raises(sievelight.InputError, match="12 slit lengths and 0 slit widths"):
        Curve(q_per_nm=slit.q_per_nm, intensity=slit.intensity, slit_length_per_nm=slit.slit_length_per_nm)
    np.testing.assert_allclose(curves.rebin(slit, group=3).slit_length_per_nm, np.full(4, 0.4), rtol=1e-15)


def test_everything_around_the_numbers_comes_back(tmp_path):
    given = dict(
        probe="x-ray",
        source_type="Rotating Anode X-ray",
        beam_shape="point",
        wavelength_nm=0.154,
        wavelength_spread=0.003,
        collimation_length_mm=300.0,
        detector_name="area",
        distance_mm=612.0,
        beam_center_px=(251.1, -3.5),
        pixel_size_mm=(0.1, 0.2),
        pitch_deg=0.1,
        yaw_deg=-0.2,
        roll_deg=90.0,
        slit_length_per_nm=0.7,
    )
    step = sievelight.curve.ProcessStep("dark", "taken off", [("a", "1")], ["a note"])
    curves.write_nxcansas(
        tmp_path / "c.h5", some_curve(), title="t", temperature_C=25.0, sample_details=["dry"], steps=[step], **given
    )
    (found,) = curves.read_curves(tmp_path / "c.h5")
    spread = given.pop("wavelength_spread")  # goes through a full width in nm
    assert found.info.instrument.wavelength_spread == pytest.approx(spread, rel=1e-14)
    for name, value in given.items():
        back = getattr(found.info.instrument, name)
        assert (tuple(back) if isinstance(value, tuple) else back) == value
    assert (found.info.temperature_C, found.info.sample_details) == (25.0, ["dry"])
    assert found.info.steps == [step]
    with pytest.raises(sievelight.InputError, match="'sun' is not a source type that NeXus lists"):
        curves.write_nxcansas(tmp_path / "c.h5", some_curve(), source_type="sun")


def test_several_curves_in_one_file(tmp_path):
    first, second = some_curve(), some_curve("relative", 7, slit=True)
    named = [curves.NamedCurve("a/far", first), curves.NamedCurve("a/near", second), curves.NamedCurve("b", first)]
    curves.write_nxcansas(tmp_path / "c.h5", named)
    found = curves.read_curves(tmp_path / "c.h5")
    assert [f.name for f in found] == ["a/far", "a/near", "b/data"]
    for f, wanted in zip(found, (first, second, first)):
        assert_same(f.curve, wanted)
    curves.write_nxcansas(tmp_path / "again.h5", found)
    assert len(curves.read_curves(tmp_path / "again.h5")) == 3


# Source: RFC 4180; Python's own csv reader and pandas read the file, ours gives back the same curve.
def test_csv_is_plain_and_comes_back(tmp_path):
    curve = some_curve(slit=True)
    curve.causes = {**curve.causes, 'thickness: "A", ground': Cause("coherent", curve.q_per_nm)}
    path = tmp_path / "c.csv"
    curves.write_csv(path, curve, causes=True)
    table = pd.read_csv(path)
    assert list(table.columns[:4]) == ["q_per_nm", "intensity_per_cm", "u_total_per_cm", "u_pointwise_per_cm"]
    # pandas reads the last digit as fast as it can, not as well as it can.
    np.testing.assert_allclose(table["u_total_per_cm"], curves.total_u(curve), rtol=1e-15)
    np.testing.assert_allclose(table['u_coherent_per_cm: thickness: "A", ground'], curve.q_per_nm, rtol=1e-15)
    with open(path, newline="") as file:
        assert len({len(row) for row in csv.reader(file, strict=True)}) == 1
    assert_same(curves.read_text_curve(path).curve, curve)
    curves.write_csv(path, curve)
    (back, note) = (curves.read_text_curve(path), "total uncertainty has common parts")
    np.testing.assert_array_equal(back.curve.private_u, curves.pointwise_u(curve))
    assert any(note in n for n in back.info.notes)
    with pytest.raises(sievelight.InputError, match="Leave the units to the file's header"):
        curves.read_text_curve(path, q_unit="1/A", intensity_unit="1/cm")


def test_merge_gives_one_curve_and_says_how_well_both_agree():
    def part(low, high, n, factor):
        edges = np.geomspace(low, high, n + 1)
        q = np.sqrt(edges[1:] * edges[:-1])
        y = 30 / (1 + (4 * q) ** 2) ** 2
        shared = {
            "absolute scale": Cause("coherent", 0.0258 * factor * y),
            f"transmission: {n}": Cause("coherent", 0.008 * factor * y),
        }
        noise = 0.01 * factor * y * np.random.default_rng(n).normal(size=n)
        return Curve(
            q_per_nm=q,
            intensity=factor * y + noise,
            private_u=0.01 * factor * y,
            causes=shared,
            q_low_per_nm=edges[:-1],
            q_high_per_nm=edges[1:],
            unit="1/cm",
        )

    low, high = part(0.05, 0.6, 50, 1.0), part(0.3, 3.0, 60, 0.98)
    merged = sievelight.merge(low, high, name="A")
    assert merged.scale.value == pytest.approx(1 / 0.98, abs=4 * merged.scale_u)
    assert 0.0113 < merged.scale_u < 0.02  # the two transmissions, and counts
    assert merged.p_value > 1e-3
    assert not merged.warnings
    assert tuple(merged.overlap_per_nm) == pytest.approx((0.3, 0.6))
    assert sorted(merged.curve.causes) == [
        "absolute scale",
        "merge scale: A",
        "transmission: 50",
        "transmission: 60",
    ]
    assert merged.curve.q_per_nm[0] == low.q_per_nm[0]
    assert merged.curve.q_per_nm[-1] == high.q_per_nm[-1]
    assert (np.diff(merged.curve.q_per_nm) > 0).all()
    assert "Merged: scale 1.0" in repr(merged)
    trusted = curves.merge(low, high, name="A", scale=1.0, q_cut_per_nm=0.45)
    assert trusted.scale_u == 0
    assert "merge scale: A" not in trusted.curve.causes
    with pytest.raises(sievelight.InputError, match="three of each are needed"):
        curves.merge(curves.crop(low, q_high_per_nm=0.3), high, name="A")
    with pytest.raises(sievelight.InputError, match="not a rule of what to keep"):
        curves.merge(low, high, name="A", keep="both")
