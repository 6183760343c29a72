# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames from Python. h5py and hdf5plugin, which share no code with the reader, write the files."""

import pickle
from concurrent.futures import ThreadPoolExecutor

import h5py
import hdf5plugin
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sievelight
from sievelight import frames

COMPRESSIONS = {
    "none": {},
    "gzip": {"compression": "gzip", "compression_opts": 1},
    "shuffle+gzip": {"compression": "gzip", "shuffle": True},
    "shuffle": {"shuffle": True},
    "bitshuffle-lz4": dict(hdf5plugin.Bitshuffle()),
    "bitshuffle": dict(hdf5plugin.Bitshuffle(cname="none")),
}
INTEGERS = ["int8", "int16", "int32", "int64", "uint8", "uint16", "uint32", "uint64"]
TYPES = [np.dtype(name).newbyteorder(order) for name in [*INTEGERS, "float32", "float64"] for order in "<>"]


def write(path, data, **options):
    with h5py.File(path, "w") as file:
        file.create_dataset("x", data=data, **options)
    return path


def counts(shape, dtype, start=1):
    """Poisson counts with some large ones, all below every type's largest number."""
    rng = np.random.default_rng(start)
    values = rng.poisson(4.0, shape)
    values[rng.random(shape) < 0.05] = 120
    return values.astype(dtype)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    dtype=st.sampled_from(TYPES),
    shape=st.tuples(st.integers(1, 5), st.integers(1, 40), st.integers(1, 40)),
    chunk=st.tuples(st.integers(1, 5), st.integers(1, 40), st.integers(1, 40)),
    compression=st.sampled_from(sorted(COMPRESSIONS)),
    flat=st.booleans(),
)
def test_reads_what_others_write(tmp_path, dtype, shape, chunk, compression, flat):
    data = counts(shape, dtype)
    chunk = tuple(min(c, s) for c, s in zip(chunk, shape))
    stored, chunk = (data[0], chunk[1:]) if flat else (data, chunk)
    path = write(tmp_path / "x.h5", stored, chunks=chunk, **COMPRESSIONS[compression])
    file = frames.open_frames(path)
    data = data[:1] if flat else data
    assert (file.count, file.rows, file.columns) == data.shape
    assert file.stored_type == dtype.newbyteorder("=").name
    assert file.filters == compression
    for index in range(file.count):
        np.testing.assert_array_equal(file.read(index).counts, data[index].astype(float))
    total = file.read_sum()
    np.testing.assert_array_equal(total.counts, data.astype(float).sum(axis=0))
    assert not total.masked.any()
    assert total.exposures == file.count


@pytest.mark.parametrize("dtype", TYPES, ids=lambda dtype: dtype.str)
def test_reads_contiguous_numbers(tmp_path, dtype):
    data = counts((3, 7, 11), dtype)
    file = frames.open_frames(write(tmp_path / "x.h5", data))
    np.testing.assert_array_equal(file.read_sum([0, 2]).counts, data[0].astype(float) + data[2])


@pytest.mark.parametrize("elements", [8, 128, 2048, 8192])
def test_reads_bitshuffle_blocks_of_any_size(tmp_path, elements):
    data = counts((1, 61, 67), "uint32")  # 4087 pixels: whole blocks, a short block and 7 that are left
    options = dict(hdf5plugin.Bitshuffle(nelems=elements))
    file = frames.open_frames(write(tmp_path / "x.h5", data, chunks=data.shape, **options))
    np.testing.assert_array_equal(file.read(0).counts, data[0])


def test_reads_half_precision_and_other_filters_through_hdf5(tmp_path):
    data = counts((9, 10), "float16")
    file = frames.open_frames(write(tmp_path / "x.h5", data, chunks=(3, 10), compression="gzip", fletcher32=True))
    assert file.stored_type == "float32"
    assert file.filters == "gzip+fletcher32"
    np.testing.assert_array_equal(file.read(0).counts, data)


def test_reads_links_and_virtual_stacks(tmp_path):
    data = counts((4, 6, 8), "uint16")
    layout = h5py.VirtualLayout((4, 6, 8), "uint16")
    for k in range(4):
        write(tmp_path / f"data_{k}.h5", data[k])
        layout[k] = h5py.VirtualSource(f"data_{k}.h5", "x", (6, 8))
    with h5py.File(tmp_path / "master.h5", "w") as file:
        file.create_virtual_dataset("stack", layout)
    with h5py.File(tmp_path / "link.h5", "w") as file:
        file["frames"] = h5py.ExternalLink("master.h5", "/stack")
    for name in ("master.h5", "link.h5"):
        np.testing.assert_array_equal(frames.open_frames(tmp_path / name).read_sum().counts, data.sum(axis=0))
    # HDF5 alone would show a lost file's frame as one without counts.
    (tmp_path / "data_2.h5").unlink()
    with pytest.raises(sievelight.DataError, match=r"takes frames from the file 'data_2.h5', which is missing"):
        frames.open_frames(tmp_path / "master.h5")


@pytest.mark.parametrize(
    ("options", "name"),
    [
        (dict(hdf5plugin.Blosc()), "blosc (HDF5 filter 32001)"),
        (dict(hdf5plugin.Zfp()), "zfp (HDF5 filter 32013)"),
        (dict(hdf5plugin.Bitshuffle(cname="zstd")), "bitshuffle-zstd (HDF5 filter 32008)"),
        ({"compression": "lzf"}, "lzf (HDF5 filter 32000)"),
    ],
)
def test_names_a_filter_it_does_not_know(tmp_path, options, name):
    data = counts((6, 8), "int32")
    path = write(tmp_path / "x.h5", data, chunks=(6, 8), **options)
    try:
        file = frames.open_frames(path)
    except sievelight.DataError as error:
        assert name in error.problem
        assert "h5repack" in error.mend
    else:  # a machine may have a plugin for it; then the numbers must be right
        np.testing.assert_array_equal(file.read(0).counts, data)


@pytest.mark.parametrize(
    ("dtype", "marker"),
    [
        ("int32", -1),
        ("int32", -2),
        ("uint32", 2**32 - 1),
        ("uint32", 2**32 - 2),
        ("uint16", 65535),
        ("float32", np.nan),
    ],
)
def test_masks_the_markers_of_gaps(tmp_path, dtype, marker):
    data = counts((2, 6, 8), dtype)
    data[1, 2, 3] = marker
    total = frames.open_frames(write(tmp_path / "x.h5", data)).read_sum()
    assert np.argwhere(total.masked).tolist() == [[2, 3]]
    assert np.isfinite(total.counts).all()
    assert (total.counts >= 0).all()


def test_saturation_is_per_exposure(tmp_path):
    data = np.full((10, 4, 4), 60, "int32")
    data[3, 1, 1] = 100
    file = frames.open_frames(write(tmp_path / "x.h5", data), saturation_value=100)
    total = file.read_sum()
    assert total.counts[0, 0] == 600  # above the limit in the sum, but not in any exposure
    assert np.argwhere(total.masked).tolist() == [[1, 1]]
    assert any("1 numbers at or above the saturation value 100" in note for note in total.metadata.notes)


def test_shows_what_it_understood(tmp_path):
    with h5py.File(tmp_path / "x.h5", "w") as file:
        entry = file.create_group("entry")
        entry.attrs["NX_class"] = "NXentry"
        detector = entry.create_group("detector")
        detector.attrs["NX_class"] = "NXdetector"
        detector["data"] = counts((3, 6, 8), "int32")
        detector["distance"] = 0.6
        detector["distance"].attrs["units"] = "m"
        detector["count_time"] = 2.5
    file = frames.open_frames(tmp_path / "x.h5")
    shown = repr(file)
    for words in ("/entry/detector/data", "3 x 6 x 8", "int32", "2.5 s each", "distance 600 mm"):
        assert words in shown
    assert "note: count_time has no unit; taken as s" in shown
    frame = repr(file.read_sum())
    assert "3 exposures, 7.5 s" in frame
    assert "0 pixels masked" in frame


def test_frame_files_travel_to_other_processes(tmp_path):
    data = counts((3, 6, 8), "int32")
    file = frames.open_frames(write(tmp_path / "x.h5", data), exposure_s=2.0, saturation_value=1e6)
    other = pickle.loads(pickle.dumps(file))
    assert other.metadata.saturation_value == 1e6
    assert other.read_sum().exposure_s == 6.0
    np.testing.assert_array_equal(other.read(1).counts, data[1])


def test_threads_may_read_one_file_together(tmp_path):
    data = counts((16, 50, 60), "uint32")
    options = dict(hdf5plugin.Bitshuffle())
    file = frames.open_frames(write(tmp_path / "x.h5", data, chunks=(1, 50, 60), **options))
    with ThreadPoolExecutor(8) as pool:
        for index, frame in zip(range(16), pool.map(file.read, range(16))):
            np.testing.assert_array_equal(frame.counts, data[index])


def test_a_file_that_was_written_again_shows_its_new_content(tmp_path):
    first = counts((6, 8), "int32", 1)
    path = write(tmp_path / "x.h5", first)
    held = frames.open_frames(path)
    np.testing.assert_array_equal(held.read(0).counts, first)
    second = counts((6, 8), "int32", 2)
    write(path, second)
    np.testing.assert_array_equal(frames.open_frames(path).read(0).counts, second)


def test_frames_of_several_files_add():
    a = frames.Frame(np.full((2, 3), 5.0), exposure_s=1.0, monitor=10.0)
    b = frames.Frame(np.full((2, 3), 7.0), np.eye(2, 3, dtype=bool), exposure_s=2.0, monitor=20.0)
    total = frames.sum_frames([a, b])
    assert (total.counts == 12).all()
    assert (total.masked == b.masked).all()
    assert (total.exposure_s, total.monitor, total.exposures) == (3.0, 30.0, 2)
    with pytest.raises(sievelight.InputError, match=r"the counts are 2 x 3 and their mask 3 x 2"):
        frames.Frame(np.zeros((2, 3)), np.zeros((3, 2), dtype=bool))


def test_masks_are_read_and_united(tmp_path):
    drawn = np.zeros((6, 8), dtype=bool)
    drawn[1, 2] = True
    with h5py.File(tmp_path / "mask.h5", "w") as file:
        file["mask"] = drawn
    mask = frames.read_mask(tmp_path / "mask.h5", rows=6, columns=8)
    assert (mask == drawn).all()
    assert frames.unite(mask, np.eye(6, 8, dtype=bool)).sum() == 7
    with pytest.raises(sievelight.DataError, match=r"is 6 x 8, the frames are 8 x 6"):
        frames.read_mask(tmp_path / "mask.h5", rows=8, columns=6)


# A chance of 1e-9 a pixel and 300 000 pixels: 3e-4 false alarms expected. The frame falls as 1/q^4 from the beamstop.
@pytest.mark.parametrize("scale", [1e3, 1e6, 1e9])
def test_a_steep_frame_has_no_defects_but_those_put_in(scale):
    rng = np.random.default_rng(5)
    y, x = np.mgrid[:500, :600]
    r = np.hypot(x - 300.4, y - 249.7)
    image = rng.poisson(scale / np.maximum(r, 6.0) ** 4 + 30.0).astype(float)
    assert not frames.find_defects(image).any()
    image[40, 40] = 200
    assert np.argwhere(frames.find_defects(image)).tolist() == [[40, 40]]


def test_bad_files_say_what_where_and_how_to_mend(tmp_path):
    good = write(tmp_path / "good.h5", counts((40, 50), "int32"))
    (tmp_path / "half.h5").write_bytes(good.read_bytes()[:4000])
    (tmp_path / "text.h5").write_text("1 2 3\n")
    with h5py.File(tmp_path / "line.h5", "w") as file:
        file["q"] = np.arange(5.0)
    with h5py.File(tmp_path / "two.h5", "w") as file:
        file["a"] = np.zeros((3, 4))
        file["b"] = file["a"]  # the same under another name: listed once
        file["b2"] = np.zeros((5, 6))
    for name, words in {
        "none.h5": "There is no file",
        "half.h5": "truncated or broken",
        "text.h5": "has 3 columns",
        "line.h5": "holds no detector frame",
        "two.h5": r"/a (3 x 4), /b2 (5 x 6)",
    }.items():
        with pytest.raises(sievelight.DataError) as caught:
            frames.open_frames(tmp_path / name)
        assert words in caught.value.problem
        assert name in caught.value.problem
        assert caught.value.mend
    assert frames.open_frames(tmp_path / "line.h5", dataset="q").columns == 5  # asked for: a strip
    with pytest.raises(sievelight.DataError, match="There is no data set '/p'"):
        frames.open_frames(tmp_path / "line.h5", dataset="/p")
    with pytest.raises(sievelight.InputError, match="there is no frame 1 in"):
        frames.open_frames(good).read(1)
    with pytest.raises(sievelight.InputError, match="exposure_s is 0"):
        frames.open_frames(good, exposure_s=0)


def test_a_frame_without_a_usable_pixel_is_refused(tmp_path):
    file = frames.open_frames(write(tmp_path / "nan.h5", np.full((6, 8), np.nan)))
    with pytest.raises(sievelight.DataError, match="has no usable pixel: all 48 are masked"):
        file.read(0)
