# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames in TIFF, NPY and text, written by tifffile and NumPy, which share no code with the reader.

CBF files are written by the crystallographic union's own library, in tests/cpp/frames/cbf_frames_test.cpp.
"""

import re

import h5py
import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sievelight
from sievelight import frames

INTEGERS = ["int8", "int16", "int32", "int64", "uint8", "uint16", "uint32", "uint64"]
TYPES = [*INTEGERS, "float32", "float64"]
EACH = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def counts(shape, dtype, start=1):
    """Poisson counts with some large ones, all below every type's largest number."""
    rng = np.random.default_rng(start)
    values = rng.poisson(4.0, shape)
    return np.where(rng.random(shape) < 0.05, 120, values).astype(dtype)


def comes_back(file, data):
    assert (file.count, file.rows, file.columns) == data.shape
    for index in range(file.count):
        np.testing.assert_array_equal(file.read(index).counts, data[index].astype(float))
    total = file.read_sum()
    np.testing.assert_array_equal(total.counts, data.astype(float).sum(axis=0))
    assert not total.masked.any()


@EACH
@given(
    dtype=st.sampled_from(TYPES),
    order=st.sampled_from("<>"),
    shape=st.tuples(st.integers(1, 4), st.integers(1, 40), st.integers(1, 40)),
    big=st.booleans(),
    tile=st.booleans(),
    strip=st.integers(1, 50),
    packing=st.sampled_from([(None, None), ("zlib", None), ("zlib", True)]),
)
def test_tiff_comes_back(tmp_path, dtype, order, shape, big, tile, strip, packing):
    data = counts(shape, dtype)
    compression, predictor = packing
    path = tmp_path / "x.dat"  # the suffix says nothing
    with tifffile.TiffWriter(path, byteorder=order, bigtiff=big) as file:
        for page in data:
            file.write(
                page,
                contiguous=False,
                photometric="minisblack",
                tile=(16, 32) if tile else None,
                rowsperstrip=None if tile else strip,
                compression=compression,
                predictor=predictor and compression and "int" in dtype and data.itemsize < 8,
            )
    file = frames.open_frames(path)
    assert (file.format, file.stored_type) == ("TIFF", dtype)
    comes_back(file, data)


def test_tiff_of_one_block_of_pages_comes_back(tmp_path):
    data = counts((5, 12, 9), "uint16")
    tifffile.imwrite(tmp_path / "x.tif", data, photometric="minisblack")
    comes_back(frames.open_frames(tmp_path / "x.tif"), data)


@EACH
@given(
    dtype=st.sampled_from(TYPES),
    order=st.sampled_from("<>"),
    shape=st.tuples(st.integers(1, 5), st.integers(1, 20), st.integers(1, 20)),
    dimensions=st.integers(0, 3),
    fortran=st.booleans(),
    version=st.sampled_from([(1, 0), (2, 0), (3, 0)]),
)
def test_npy_comes_back(tmp_path, dtype, order, shape, dimensions, fortran, version):
    data = counts(shape, np.dtype(dtype).newbyteorder(order))
    stored = (
        data if dimensions == 3 else data[0] if dimensions == 2 else data[0, 0] if dimensions == 1 else data[0, 0, 0]
    )
    expected = np.asarray(stored).reshape((1,) * (3 - dimensions) + np.shape(stored))
    path = tmp_path / "x"
    with path.open("wb") as file:
        np.lib.format.write_array(file, np.asarray(stored, order="F" if fortran else "C"), version=version)
    opened = frames.open_frames(path)
    assert (opened.format, opened.stored_type) == ("NPY", dtype)
    comes_back(opened, expected)


def test_strips_of_text_come_back(tmp_path):
    data = counts((1, 1, 300), "int32")
    np.savetxt(tmp_path / "two.dat", np.column_stack([np.arange(300), data[0, 0]]), fmt="%d", header="channel counts")
    np.savetxt(tmp_path / "one.dat", data[0, 0], fmt="%d")
    for name in ("two.dat", "one.dat"):
        comes_back(frames.open_frames(tmp_path / name), data)


@pytest.mark.parametrize("write", ["h5", "tif", "npy"])
def test_negative_marks_and_saturation_are_masked_in_every_format(tmp_path, write):
    data = np.full((6, 8), 10, dtype=np.int32)
    data[1, 2], data[3, 4], data[5, 5] = -1, 1000, np.iinfo(np.int32).max
    path = tmp_path / f"x.{write}"
    if write == "h5":
        with h5py.File(path, "w") as file:
            file["x"] = data
    elif write == "tif":
        tifffile.imwrite(path, data)
    else:
        np.save(path, data)
    frame = frames.open_frames(path, saturation_value=1000, exposure_s=2.0).read(0)
    assert sorted(map(tuple, np.argwhere(frame.masked))) == [(1, 2), (3, 4), (5, 5)]
    assert frame.exposure_s == 2.0
    dark_subtracted = tmp_path / "dark.npy"
    np.save(dark_subtracted, data - 10.5)
    with pytest.raises(sievelight.DataError, match="negative numbers that are not whole"):
        frames.open_frames(dark_subtracted).read(0)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda p: tifffile.imwrite(p, np.zeros((4, 5, 3), "uint8"), photometric="rgb"), "a colour picture"),
        (lambda p: tifffile.imwrite(p, np.zeros((4, 5), "uint8"), photometric="palette",
                                    colormap=np.zeros((3, 256), "uint16")), "a picture with a palette"),
        (lambda p: tifffile.imwrite(p, np.zeros((4, 5), "complex64")), "complex"),
        (lambda p: tifffile.imwrite(p, np.zeros((4, 5), "float16")), "numbers of 16 bits (floating point)"),
        (lambda p: tifffile.imwrite(p, np.zeros((4, 5), bool)), "numbers of 1 bits"),
        (lambda p: np.save(p.open("wb"), np.array([{}, {}], dtype=object)), "never loaded"),
        (lambda p: np.save(p.open("wb"), np.zeros(3, dtype=[("a", "i4")])), "records of several fields"),
        (lambda p: np.save(p.open("wb"), np.zeros((3, 4), "complex64")), "the type '<c8'"),
        (lambda p: np.save(p.open("wb"), np.zeros((3, 4), "U5")), "the type '<U5'"),
        (lambda p: np.save(p.open("wb"), np.zeros((3, 4), bool)), "true and false"),
        (lambda p: np.savez(p.open("wb"), np.zeros((3, 4))), "compressed as a whole"),
        (lambda p: np.savetxt(p, np.zeros((3, 4))), "has 4 columns"),
    ],
)  # fmt: skip
def test_what_is_no_frame_is_refused_in_words(tmp_path, make, words):
    path = tmp_path / "x.bin"
    make(path)
    with pytest.raises(sievelight.DataError, match=re.escape(words)) as caught:
        frames.open_frames(path)
    assert "x.bin" in caught.value.problem
    assert caught.value.mend


@pytest.mark.parametrize("kind", ["tif", "zlib.tif", "npy"])
def test_a_cut_file_is_refused_or_all_its_counts_are_there(tmp_path, kind):
    # A TIFF file may end with tags that are not needed; what is missing must never be read as zeros.
    data = counts((2, 40, 50), "int32")
    whole = tmp_path / f"x.{kind}"
    if kind == "npy":
        np.save(whole, data)
    else:
        tifffile.imwrite(whole, data, photometric="minisblack", compression="zlib" if kind[0] == "z" else None)
    content = whole.read_bytes()
    cut, refused = tmp_path / "cut", 0
    for length in {8, 20, *np.linspace(30, len(content) - 1, 40).astype(int)}:
        cut.write_bytes(content[:length])
        try:
            total = frames.open_frames(cut).read_sum()
        except sievelight.DataError:
            refused += 1
            continue
        np.testing.assert_array_equal(total.counts, data.sum(axis=0))
    assert refused >= 40


# Bytes changed at random must never crash the reader or give numbers of another shape without a word.
@pytest.mark.parametrize("kind", ["tif", "npy"])
def test_damaged_headers_never_crash(tmp_path, kind):
    rng = np.random.default_rng(8)
    data = counts((3, 20, 30), "uint16")
    whole = tmp_path / f"x.{kind}"
    np.save(whole, data) if kind == "npy" else tifffile.imwrite(whole, data, photometric="minisblack")
    content = np.frombuffer(whole.read_bytes(), dtype=np.uint8)
    bad = tmp_path / "bad"
    for _ in range(300):
        damaged = content.copy()
        damaged[rng.integers(0, min(400, len(content)), 3)] = rng.integers(0, 256, 3)
        bad.write_bytes(damaged.tobytes())
        try:
            frame = frames.open_frames(bad).read_sum()
        except (sievelight.DataError, sievelight.InputError):
            continue
        assert frame.counts.shape == frame.masked.shape
