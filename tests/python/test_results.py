# SPDX-License-Identifier: GPL-3.0-or-later
"""Every result becomes a table, a file and HTML with the same numbers; what is missing says what to install."""

import csv
import importlib
import inspect
import json
import subprocess
import sys

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest

import sievelight as sl
from sievelight import _core, tables
from sievelight.units import unit_of


@pytest.fixture(scope="module")
def curve():
    q = np.geomspace(0.08, 2.5, 120)
    x = 6 * q
    intensity = 40 * (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 + 0.05  # Rayleigh 1911
    u = 0.02 * intensity + 1e-3
    noisy = intensity + u * np.random.default_rng(2).standard_normal(q.size)
    return sl.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm")


@pytest.fixture(scope="module")
def sizes(curve):
    return sl.invert(curve, contrast_per_cm2=1e11, method="evidence")


def test_numbers_carry_value_uncertainty_interval_and_unit(curve, sizes):
    table = sizes.to_dataframe(what="numbers")
    assert table.loc["x50_nm", "value"] == sizes.x50_nm.value and table.loc["x50_nm", "u"] == sizes.x50_nm.u
    assert table.loc["x50_nm", "low95"] == sizes.x50_nm.band95.low
    assert table.loc["x50_nm", "unit"] == "nm" and table.loc["specific_surface_m2_per_cm3", "unit"] == "m²/cm³"
    assert table.loc["background", "unit"] == "1/cm"  # that of the curve
    fit = sl.fit_guinier(curve)
    assert fit.to_dataframe().loc["i0", "unit"] == "1/cm"
    assert fit.to_dataframe().loc["q_range_per_nm", "value"] == (fit.q_range_per_nm.low, fit.q_range_per_nm.high)


@pytest.mark.parametrize(
    ("name", "unit"),
    [("x50_nm", "nm"), ("q_per_nm", "1/nm"), ("u_x_px", "px"), ("thickness_u_mm", "mm"), ("constant_per_cm5", "1/cm⁵"),
     ("transmission", ""), ("q3_low95", "1/nm"), ("m2_per_g", ""), ("temperature_C", "°C"), ("warnings", "")],
)  # fmt: skip
def test_units_come_from_names(name, unit):
    assert unit_of(name) == unit


def test_points_are_the_curve_and_the_density(curve, sizes):
    table = curve.to_dataframe()
    assert list(table.columns[:3]) == ["q_per_nm", "intensity", "u"]
    np.testing.assert_array_equal(table["intensity"], curve.intensity)
    density = sizes.to_dataframe()
    np.testing.assert_array_equal(density["q3_per_nm"], sizes.q3_per_nm)
    assert (density["q3_low95"] <= density["q3_high95"]).all() and len(density) == len(sizes.diameter_nm)
    data = sizes.to_xarray()
    assert data["q3_per_nm"].dims == ("diameter_nm",) and data["q3_per_nm"].attrs["units"] == "1/nm"
    assert data.diameter_nm.attrs["units"] == "nm"
    assert curve.to_xarray()["intensity"].attrs["units"] == "1/cm"


def test_a_curve_of_two_or_three_arrays(curve):
    table = pd.DataFrame({"q": [0.1, 0.2, 0.3], "i": [5.0, 2.0, 1.0], "u": [0.1, 0.1, 0.1]})
    three = sl.Curve(q_per_nm=table["q"], intensity=table["i"], private_u=table["u"], unit="relative")
    assert three.to_dataframe()["u"].tolist() == [0.1] * 3
    two = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[5, 2])
    assert two.to_dataframe()["intensity"].tolist() == [5, 2]


@pytest.mark.parametrize("suffix", [".csv", ".json", ".h5", ".nxs"])
def test_files_hold_the_same_numbers(curve, sizes, tmp_path, suffix):
    one, other = curve.save(tmp_path / f"c{suffix}"), sizes.save(tmp_path / f"s{suffix}")
    assert not list(tmp_path.glob(".*")) and not list(tmp_path.glob("*.part"))
    if suffix == ".csv":
        rows = list(csv.DictReader(other.open()))
        np.testing.assert_array_equal([float(r["q3_per_nm"]) for r in rows], sizes.q3_per_nm)
        np.testing.assert_allclose(sl.read_text_curve(one).curve.intensity, curve.intensity, rtol=1e-9)
    elif suffix == ".json":
        read = json.loads(other.read_text())
        assert read["x50_nm"] == {"value": sizes.x50_nm.value, "u": sizes.x50_nm.u, "low95": sizes.x50_nm.band95.low,
                                  "high95": sizes.x50_nm.band95.high, "unit": "nm"}  # fmt: skip
        assert read["points"]["diameter_nm"] == sizes.diameter_nm.tolist()
        assert json.loads(one.read_text())["points"]["intensity"] == curve.intensity.tolist()
    else:
        np.testing.assert_array_equal(sl.read_curves(one)[0].curve.intensity, curve.intensity)
        h5py = pytest.importorskip("h5py")
        with h5py.File(other) as file:
            stored = [
                v for v in _datasets(file) if v.shape == sizes.q3_per_nm.shape and np.array_equal(v, sizes.q3_per_nm)
            ]
        assert stored


def _datasets(file):
    found = []
    file.visititems(lambda _, item: found.append(item[()]) if hasattr(item, "shape") and item.shape else None)
    return found


def test_what_cannot_be_saved_or_written_says_so(curve, sizes, tmp_path):
    with pytest.raises(sl.InputError, match=r"\.csv or \.json"):
        sizes.save(tmp_path / "s.xlsx")
    with pytest.raises(sl.InputError, match="NXcanSAS"):
        curve.save(tmp_path / "c.docx")
    (tmp_path / "taken").write_text("a file")
    for result in (curve, sizes):
        for suffix in (".csv", ".json", ".h5"):
            with pytest.raises((sl.DataError, OSError)):
                result.save(tmp_path / "taken" / f"x{suffix}")
    with pytest.raises(sl.InputError, match="'points' or 'numbers'"):
        curve.to_dataframe(what="all")
    with pytest.raises(sl.InputError, match="no function"):
        tables.to_xarray(sl.fit_guinier(curve))


def test_html_is_escaped_and_shows_numbers_and_warnings(curve, sizes):
    page = sizes._repr_html_()
    assert "<code>x50_nm</code>" in page and f"{sizes.x50_nm.value:.5g}" in page and "quick look" in page

    class Odd:
        warnings = ("<script>alert(1)</script>",)

    assert "<script>" not in tables.as_html(Odd()) and "&lt;script&gt;" in tables.as_html(Odd())


def test_every_result_of_the_core_is_at_home(curve):
    """All classes that print numbers have the table, the file and the HTML; those over a variable have xarray too."""
    classes = [c for _, c in inspect.getmembers(_core, inspect.isclass) if hasattr(c, "to_dataframe")]
    assert len(classes) > 60
    for c in classes:
        assert all(hasattr(c, name) for name in ("save", "_repr_html_")), c
        assert hasattr(c, "to_xarray") == (c.__name__ in tables.POINTS), c
    known = {c.__name__ for c in classes} | {"WhatIf", "FamilyComparison"}
    assert set(tables.POINTS) <= known, "a name in POINTS is no result"


@pytest.mark.parametrize("package", ["pandas", "xarray"])
def test_a_missing_extra_is_named(curve, monkeypatch, package):
    monkeypatch.setitem(sys.modules, package, None)
    with pytest.raises(sl.InputError, match=r"sievelight\[notebook\]"):
        curve.to_dataframe() if package == "pandas" else curve.to_xarray()


def test_the_namespace_is_lazy_and_whole():
    """Importing loads the core only; every listed name can be had, and Tab sees all of them."""
    code = "import sys, sievelight as sl; print(sorted(m for m in sys.modules if m.split('.')[0] in ('sievelight', 'pandas', 'matplotlib', 'h5py', 'msgspec')))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "sievelight._core" in loaded
    assert not any(
        heavy in loaded for heavy in ("matplotlib", "pandas", "msgspec", "sievelight.study", "sievelight.report")
    )
    for name in sl.__all__:
        assert getattr(sl, name) is not None and name in dir(sl)
    for name in ("calibrate", "invert", "what_if", "reduce_file", "run_study"):
        assert inspect.isfunction(getattr(sl, name)), name
    for module in ("calibration", "sensitivity", "single_file"):  # an import of a module must not hide a function
        importlib.import_module(f"sievelight.{module}")
    assert inspect.isfunction(sl.calibrate) and inspect.isfunction(sl.what_if)
    with pytest.raises(AttributeError):
        _ = sl.no_such_name


def test_comparisons_of_choices_and_families_are_tables_and_pictures(curve):
    families = sl.compare_families(curve, ["log-normal", "monodisperse"])
    table = families.to_dataframe()
    assert table["family"].tolist() == [f.family for f in families.fits] and table["weight"].sum() == pytest.approx(1)
    choices = sl.what_if(curve, method="evidence")
    shifts = choices.to_dataframe()
    assert shifts["x50_nm"].abs().max() == abs(choices.worst()["x50_nm"]) and len(shifts) == len(choices.rows)
    for result in (families, choices):
        assert "<table>" in result._repr_html_()
        ax = result.plot()
        assert ax.get_xlabel() and len(ax.lines) >= 2
        plt.close(ax.figure)
    with pytest.raises(sl.InputError, match="no row has"):
        choices.plot("x49_nm")


def test_a_study_is_a_table_a_picture_and_html(study):
    folder, _ = study
    result = sl.run_study(folder / "study.toml")
    with open(result.output / "summary.csv") as file:
        rows = list(csv.DictReader(file))
    table = result.to_dataframe()
    assert table["name"].tolist() == [r["name"] for r in rows] == [s.name for s in result.samples]
    assert table["x50_nm"].tolist() == [float(r["x50_nm"]) for r in rows]
    assert len(result.to_dataframe(what="findings")) == len(result.findings)
    assert set(result.to_dataframe(what="batches")["kind"]) >= {"batch", "pair"}
    page = result._repr_html_()
    assert all(s.name in page for s in result.samples) and "verdicts" in page
    for ax in (result.plot(), result.samples[0].plot(), result.samples[0].plot(kind="curve")):
        assert ax.get_ylabel() and (ax.lines or ax.collections)
        plt.close(ax.figure)
    assert result.sample(result.samples[0].name) is result.samples[0]
    with pytest.raises(sl.InputError, match="Did you mean"):
        result.sample(result.samples[0].name + "x")
    with pytest.raises(sl.InputError, match="Known: samples"):
        result.to_dataframe(what="all")
