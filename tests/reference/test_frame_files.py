# SPDX-License-Identifier: GPL-3.0-or-later
"""Two real files of detector frames from the NeXus International Advisory Committee's example data collection."""

import h5py
import numpy as np
import pytest

import sievelight
from sievelight import frames


# Source: the file's own record, with h5py; its lengths carry no unit and are mm (README of the collection): the centre
# is 14.76792 / 0.172 = 85.86 and -0.93224 / 0.172 = -5.42 pixels. x runs along the rows in this file; it is said, not
# guessed.
def test_an_old_file_without_units(reference_data):
    path = reference_data / "silver-behenate-frame.h5"
    file = frames.open_frames(path)
    m = file.metadata
    assert (file.count, file.rows, file.columns, file.stored_type) == (1, 195, 487, "int32")
    assert file.dataset == "/entry/data/data"
    assert m.distance_mm == 513.8
    assert (m.pixel_size_x_mm, m.pixel_size_y_mm) == (0.172, 0.172)
    assert m.beam_center_x_px == pytest.approx(85.86, abs=1e-9)
    assert m.beam_center_y_px == pytest.approx(-5.42, abs=1e-9)
    assert m.wavelength_nm == pytest.approx(0.073362836, abs=5e-10)  # the digits in the file
    notes = " | ".join(m.notes)
    assert "distance has no unit; taken as mm" in notes
    assert "beam_center_x = 14.7679 has no unit" in notes
    assert "with x along the rows it would be (column -5.42, row 85.86)" in notes
    frame = file.read(0)
    assert frame.exposure_s == 5.0
    assert frame.monitor == 147121.0
    with h5py.File(path) as h5:
        np.testing.assert_array_equal(frame.counts, h5["entry/data/data"][()])


def test_a_series_with_its_monitors(reference_data):
    path = reference_data / "ageing-series-frames.h5"
    file = frames.open_frames(path)
    assert file.dataset == "/entry/instrument/detector/data"
    assert (file.count, file.rows, file.columns) == (10, 195, 487)
    assert file.metadata.beam_center_x_px == pytest.approx(99.95, abs=1e-9)
    assert file.metadata.beam_center_y_px == pytest.approx(-5.65, abs=1e-9)
    assert file.metadata.wavelength_nm == pytest.approx(0.059040224, abs=5e-10)
    with h5py.File(path) as h5:
        stack = h5["entry/data/frames"][()]
        monitors = h5["entry/instrument/control/integral"][()]
    np.testing.assert_array_equal(file.monitors, monitors)
    total = file.read_sum()
    np.testing.assert_array_equal(total.counts, stack.sum(axis=0, dtype=np.int64))
    assert total.exposure_s == 300.0
    assert total.monitor == pytest.approx(monitors.sum(), rel=1e-15)
    np.testing.assert_array_equal(file.read_sum([7, 2]).counts, stack[2].astype(np.int64) + stack[7])


def test_a_named_data_set_takes_the_geometry_of_its_detector(reference_data):
    path = reference_data / "ageing-series-frames.h5"
    blank = frames.open_frames(path, dataset="/entry/instrument/detector/blank")
    assert blank.count == 1
    assert blank.metadata.distance_mm == 540.8
    assert blank.monitors is None
    assert any("10 values for 1 exposures" in note for note in blank.metadata.notes)
    with h5py.File(path) as h5:
        np.testing.assert_array_equal(blank.read(0).counts, h5["entry/instrument/detector/blank"][()])


# Source: README of the reference data: the scattering near the beam, 0.37 <= q < 0.6 1/nm, rises monotonically from
# 1686 to 2376 counts a pixel and 10^6 of the monitor, by 1.409. Which pixels were left out there is not said; here it is
# the 5 shadowed columns, so absolute numbers differ by some percent and the ratio by less than 1 %.
def test_scattering_grows_while_the_alloy_ages(reference_data):
    file = frames.open_frames(reference_data / "ageing-series-frames.h5")
    y, x = np.mgrid[:195, :487]
    angle = np.arctan(np.hypot(x + 5.65, y - 99.95) * 0.172 / 540.8)
    q = 4 * np.pi / 0.059040 * np.sin(angle / 2)
    near = (q >= 0.37) & (q < 0.6) & (x >= 5)
    counts = np.array([file.read(k).counts[near].sum() for k in range(10)])
    levels = counts / file.monitors
    # The last frames differ by less than their counts can tell: 3 standard deviations of the difference are allowed.
    counting_sd = levels[1:] * np.sqrt(1 / counts[1:] + 1 / counts[:-1])
    assert (np.diff(levels) > -3 * counting_sd).all()
    assert (np.diff(levels)[:6] > 3 * counting_sd[:6]).all()
    assert levels[-1] / levels[0] == pytest.approx(2376 / 1686, rel=0.01)


# One pixel of this detector, row 58 and column 112, reads 0 in the one file and four times its neighbours in the other,
# five years later. The two others in the first file lie at the frame's edge where the direct beam passes, beside pixels
# of 10^5 to 10^6 counts.
def test_the_real_defects_are_found_and_few_others(reference_data):
    silver = frames.open_frames(reference_data / "silver-behenate-frame.h5").read(0)
    found = np.argwhere(frames.find_defects(silver.counts, masked=silver.masked))
    assert [58, 112] in found.tolist()
    assert len(found) <= 3
    assert all(column == 0 and 80 <= row <= 90 for row, column in found if [row, column] != [58, 112])
    series = frames.open_frames(reference_data / "ageing-series-frames.h5").read_sum()
    found = np.argwhere(frames.find_defects(series.counts, masked=series.masked))
    assert [58, 112] in found.tolist()
    assert len(found) <= 10  # of 94965 pixels


def test_a_file_of_curves_is_no_file_of_frames(reference_data):
    with pytest.raises(sievelight.DataError, match="holds reduced curves"):
        frames.open_frames(reference_data / "bimodal-test1.h5")
