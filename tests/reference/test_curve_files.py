# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves of the canSAS 1D working group's example files, held against h5py and the standard library's XML reader."""

import xml.etree.ElementTree as ET

import h5py
import numpy as np
import pytest

from sievelight import curve as curves


def xml_columns(path, *names):
    """Columns of the first SASdata, read without any of our code."""
    data = next(e for e in ET.parse(path).iter() if e.tag.endswith("}SASdata"))
    rows = [{c.tag.split("}")[1]: c for c in point} for point in data]
    return [np.array([float(row[name].text) for row in rows]) for name in names]


# Source: canSAS 1D examples, bimodal-test1 (simulated 1992), the same data as canSAS XML 1.1 and as NXcanSAS.
@pytest.mark.parametrize("suffix", ["h5", "xml"])
def test_bimodal(reference_data, suffix):
    (found,) = curves.read_curves(reference_data / f"bimodal-test1.{suffix}")
    with h5py.File(reference_data / "bimodal-test1.h5") as file:
        q, i, dev = (file[f"sasentry/sasdata/{name}"][()] for name in ("Q", "I", "Idev"))
    order = np.argsort(q, kind="stable")
    assert not np.array_equal(order, np.arange(q.size))  # the file is not in the order of q
    assert any("not in the order of q" in note for note in found.info.notes)
    np.testing.assert_allclose(found.curve.q_per_nm, 10 * q[order], rtol=1e-15)
    np.testing.assert_array_equal(found.curve.intensity, i[order])
    np.testing.assert_array_equal(found.curve.private_u, dev[order])
    assert found.curve.unit == "1/cm"
    assert found.has_uncertainty
    assert found.info.sample_name == "bimodal-test1"
    assert found.info.run == "1992"
    assert found.info.instrument.wavelength_nm == pytest.approx(0.1)
    assert found.info.steps[0].name == "create the SAS data"


# Source: A. J. Allen, D. Gavillet, J. R. Weertman, Acta Metall. Mater. 41 (1993) 1869, as canSAS examples.
def test_several_entries_with_several_curves(reference_data):
    from_xml = curves.read_curves(reference_data / "cs_af1410.xml")
    from_h5 = curves.read_curves(reference_data / "cs_af1410.h5")
    assert len(from_xml) == len(from_h5) == 19
    named = {c.name.split("/")[1].replace("-", "_"): c for c in from_xml}
    for found in from_h5:
        twin = named[found.name.split("/")[1]]
        np.testing.assert_array_equal(found.curve.q_per_nm, twin.curve.q_per_nm)
        np.testing.assert_array_equal(found.curve.intensity, twin.curve.intensity)
        np.testing.assert_array_equal(found.curve.private_u, twin.curve.private_u)
        assert found.curve.unit == "1/cm"
        assert found.info.instrument.wavelength_nm == pytest.approx(0.85)


# Source: glassy carbon round robin of the canSAS working group: no uncertainties, intensity in electrons/nm3.
@pytest.mark.parametrize("suffix", ["h5", "xml"])
def test_missing_uncertainty_and_an_odd_unit_are_said(reference_data, suffix):
    (found,) = curves.read_curves(reference_data / f"gc14-dls-i22.{suffix}")
    assert not found.has_uncertainty
    assert not found.curve.private_u.any()
    assert found.curve.unit == "relative"
    assert found.info.thickness_mm == 1.0
    notes = " | ".join(found.info.notes)
    assert "electrons/nm3" in notes
    assert "no uncertainty" in notes
    with h5py.File(reference_data / "gc14-dls-i22.h5") as file:
        q, i = file["sasentry/sasdata/Q"][()], file["sasentry/sasdata/I"][()]
    # q has three digits, so some points share one; their mean is taken.
    expected = np.array([i[q == value].mean() for value in np.unique(q)])
    np.testing.assert_allclose(found.curve.q_per_nm, 10 * np.unique(q), rtol=1e-15)
    np.testing.assert_allclose(found.curve.intensity, expected, rtol=1e-14)
    assert "share their q" in notes


# Source: glassy carbon C4, canSAS XML in the older namespace cansas1d/1.0, with q resolution.
def test_the_older_namespace_and_the_resolution(reference_data):
    path = reference_data / "glassy-carbon-c4-6A.xml"
    (found,) = curves.read_curves(path)
    q, i, dev, resolution = xml_columns(path, "Q", "I", "Idev", "Qdev")
    np.testing.assert_allclose(found.curve.q_per_nm, 10 * q, rtol=1e-15)
    np.testing.assert_array_equal(found.curve.intensity, i)
    np.testing.assert_array_equal(found.curve.private_u, dev)
    np.testing.assert_allclose(found.curve.q_resolution_per_nm, 10 * resolution, rtol=1e-15)
    assert found.curve.unit == "1/cm"
    assert not found.curve.slit_length_per_nm.size


# What stands around the numbers, held against the standard library's XML reader and h5py.
def test_what_stands_around_the_numbers(reference_data):
    tree = ET.parse(reference_data / "glassy-carbon-c4-6A.xml")

    def texts(tag):
        return [e.text.strip() for e in tree.iter() if e.tag.endswith("}" + tag) and e.text and e.text.strip()]

    (found,) = curves.read_curves(reference_data / "glassy-carbon-c4-6A.xml")
    info = found.info
    assert info.title == texts("Title")[0]
    assert info.sample_name == texts("ID")[0]
    assert info.instrument.probe == "neutron"
    with h5py.File(reference_data / "bimodal-test1.h5") as file:
        source = file["sasentry/sasinstrument/sassource"]
        word = source["radiation"][()].ravel()[0].decode()
    (found,) = curves.read_curves(reference_data / "bimodal-test1.h5")
    assert word not in ("x-ray", "neutron")  # the file's own words, which NeXus does not list
    assert any(word in note and "left out" in note for note in found.info.notes)


# Our file of a foreign curve, read back by a second path: CSV.
@pytest.mark.parametrize("name", ["bimodal-test1.h5", "glassy-carbon-c4-6A.xml", "gc14-dls-i22.xml"])
def test_a_foreign_curve_survives_csv(reference_data, tmp_path, name):
    (found,) = curves.read_curves(reference_data / name)
    curves.write_csv(tmp_path / "c.csv", found.curve)
    again = curves.read_text_curve(tmp_path / "c.csv")
    for array in ("q_per_nm", "intensity", "private_u", "q_resolution_per_nm"):
        np.testing.assert_array_equal(getattr(again.curve, array), getattr(found.curve, array))
    assert again.has_uncertainty == found.has_uncertainty
    assert again.curve.unit == found.curve.unit


def test_all_entries_of_a_foreign_file_go_into_one_of_ours(reference_data, tmp_path):
    found = curves.read_curves(reference_data / "cs_af1410.h5")
    curves.write_nxcansas(tmp_path / "all.h5", found)
    again = curves.read_curves(tmp_path / "all.h5")
    assert [a.name for a in again] == [f.name for f in found]
    for a, f in zip(again, found):
        np.testing.assert_array_equal(a.curve.intensity, f.curve.intensity)
        assert a.info.title == f.info.title


@pytest.mark.parametrize("name", ["bimodal-test1.h5", "glassy-carbon-c4-6A.xml", "gc14-dls-i22.h5"])
def test_a_foreign_curve_survives_our_own_file(reference_data, tmp_path, name):
    (found,) = curves.read_curves(reference_data / name)
    curves.write_nxcansas(tmp_path / "c.h5", found.curve, title=found.info.title)
    (again,) = curves.read_curves(tmp_path / "c.h5")
    for array in ("q_per_nm", "intensity", "private_u", "q_resolution_per_nm"):
        np.testing.assert_array_equal(getattr(again.curve, array), getattr(found.curve, array))
    assert again.has_uncertainty == found.has_uncertainty
    assert again.curve.unit == found.curve.unit


def test_a_file_of_frames_is_no_file_of_curves(reference_data):
    with pytest.raises(OSError, match="holds no curve"):
        curves.read_curves(reference_data / "silver-behenate-frame.h5")
