# SPDX-License-Identifier: GPL-3.0-or-later
"""Detector formats that are added from outside: by a package's entry point, by a call, in worker processes."""

import csv
import json
import os
import pickle
import subprocess
import sys

import numpy as np
import pytest

import sievelight as sl
from sievelight import frame_formats

MAGIC = b"RINGCAMERA1"

# The ten lines of somebody's package; what a file holds: magic, one line of JSON, the numbers.
CAMERA = """
import json
import numpy as np
import sievelight as sl

def recognise(path, head):
    return head.startswith(b"RINGCAMERA1")

def read(path):
    header, numbers = path.read_bytes()[11:].split(b"\\n", 1)
    said = json.loads(header)
    counts = np.frombuffer(numbers, dtype=said["type"]).reshape(said["shape"])
    return sl.RawFrames(counts, exposures_s=said["seconds"], monitors=said["monitor"], metadata=said["metadata"])
"""


def install(folder, name, source=CAMERA, *, format_name="ring camera", version="0.3"):
    """A package as pip leaves it: a module, and beside it a dist-info folder with its entry point."""
    module = name.replace("-", "_")
    folder.mkdir(exist_ok=True)
    (folder / f"{module}.py").write_text(source)
    info = folder / f"{module}-{version}.dist-info"
    info.mkdir(exist_ok=True)
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n")
    (info / "entry_points.txt").write_text(f"[sievelight.frames]\n{format_name} = {module}\n")
    (info / "RECORD").write_text(f"{module}.py,,\n")
    return folder


def write_camera(path, counts, *, seconds=5.0, monitor=None, metadata=None):
    said = {"type": counts.dtype.str, "shape": counts.shape, "seconds": seconds, "monitor": monitor,
            "metadata": metadata or {}}  # fmt: skip
    path.write_bytes(MAGIC + json.dumps(said).encode() + b"\n" + counts.tobytes())
    return path


@pytest.fixture
def site(tmp_path, monkeypatch):
    """A folder of installed packages that this process and its workers see; forgotten afterwards."""
    folder = tmp_path / "site"
    folder.mkdir()
    monkeypatch.syspath_prepend(str(folder))
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, [str(folder), os.environ.get("PYTHONPATH")])))
    before = set(sys.modules)
    frame_formats._installed.cache_clear()
    yield folder
    frame_formats._installed.cache_clear()
    frame_formats._registered.clear()
    for name in set(sys.modules) - before:
        if getattr(sys.modules[name], "__file__", None) and str(folder) in sys.modules[name].__file__:
            del sys.modules[name]


@pytest.fixture
def here():
    """Registered formats are forgotten after the test."""
    yield
    frame_formats._registered.clear()


def some_counts(dtype="<u2", shape=(3, 8, 6)):
    return np.random.default_rng(2).poisson(30, shape).astype(dtype)


def test_an_installed_format_is_read_like_any_other(site, tmp_path):
    install(site, "ring-camera")
    counts = some_counts()
    counts[1, 2, 3] = 65535  # a marker of a gap
    path = write_camera(tmp_path / "a.dat", counts, monitor=[10, 20, 30], metadata={"distance_mm": 604, "notes": ["n"]})
    file = sl.open_frames(path)
    assert (file.format, file.count, file.rows, file.columns, file.stored_type) == ("ring camera", 3, 8, 6, "uint16")
    assert file.metadata.distance_mm == 604
    assert file.metadata.notes == ["n", "read by 'ring camera' (package ring-camera 0.3)"]
    frame = file.read_sum()
    expected = counts.sum(axis=0, dtype=float)
    expected[2, 3] -= 65535
    assert np.array_equal(frame.counts, expected)
    assert frame.masked[2, 3] and frame.masked.sum() == 1
    assert (frame.exposure_s, frame.monitor) == (15.0, 60.0)
    assert np.array_equal(file.read(2).counts, counts[2])
    assert sl.open_frames(path, saturation_value=35, exposure_s=2).read(0).exposure_s == 2
    looked = sl.inspect_file(path)
    assert looked.facts["format"] == "ring camera" and looked.kind == "frames"
    known = sl.known_frame_formats()
    assert [(f.name, f.origin) for f in known] == [("ring camera", "package ring-camera 0.3")]
    assert known[0].version.startswith("0.3 ")


def test_the_command_line_knows_it_too(site, tmp_path):
    install(site, "ring-camera")
    path = write_camera(tmp_path / "a.dat", some_counts())
    done = subprocess.run(
        [sys.executable, "-m", "sievelight", "inspect", str(path), "--json"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)[0]["format"] == "ring camera"


def test_a_format_can_be_registered_replaced_and_forgotten(here, tmp_path):
    path = tmp_path / "b.dat"
    path.write_bytes(b"OWN" + bytes(range(12)))
    own = {"recognise": lambda path, head: head[:3] == b"OWN"}
    sl.register_frame_format("own", read=lambda p: np.frombuffer(p.read_bytes()[3:], np.uint8).reshape(3, 4), **own)
    assert sl.open_frames(path).read(0).counts[2, 3] == 11
    sl.register_frame_format("own", read=lambda p: np.frombuffer(p.read_bytes()[3:], np.uint8).reshape(4, 3), **own)
    assert sl.open_frames(path).rows == 4
    sl.forget_frame_format("own")
    with pytest.raises(sl.DataError, match="not a file of a known kind"):
        sl.open_frames(path)
    with pytest.raises(sl.InputError, match="no frame format 'own' was registered"):
        sl.forget_frame_format("own")


@pytest.mark.parametrize("dtype", ["<u1", "<i2", ">i4", "<u8", ">f4", "<f8"])
def test_number_types_and_strides_come_through(here, tmp_path, dtype):
    counts = some_counts(dtype)
    path = tmp_path / "c.dat"
    path.write_bytes(b"OWN")
    for stack in (counts, counts.transpose(0, 2, 1), counts[:, ::2, ::-1]):
        sl.register_frame_format("own", recognise=lambda p, h: True, read=lambda p, stack=stack: stack)
        file = sl.open_frames(path)
        assert [np.array_equal(file.read(i).counts, stack[i]) for i in range(3)] == [True] * 3
    sl.register_frame_format("own", recognise=lambda p, h: True, read=lambda p: counts[0, 0])
    assert (sl.open_frames(path).rows, sl.open_frames(path).columns) == (1, 6)


def test_a_long_stack_stays_where_it_is_until_an_exposure_is_read(here, tmp_path):
    asked = []

    class Stack:
        shape, dtype = (1000, 4, 5), np.dtype("int32")

        def __getitem__(self, index):
            asked.append(index)
            return np.full((4, 5), index, dtype=np.int32)

    path = tmp_path / "d.dat"
    path.write_bytes(b"OWN")
    sl.register_frame_format("own", recognise=lambda p, h: True, read=lambda p: sl.RawFrames(Stack()))
    file = sl.open_frames(path)
    assert file.count == 1000 and not asked
    assert file.read_sum([3, 7]).counts[0, 0] == 10 and asked == [3, 7]


def refusal(path, **options):
    with pytest.raises(sl.DataError) as caught:
        sl.open_frames(path, **options).read(0)
    return str(caught.value)


def test_a_reader_that_goes_wrong_is_named_with_the_file(here, tmp_path):
    path = tmp_path / "e.dat"
    path.write_bytes(b"OWN")

    def words(answer):
        def read(_):
            return answer() if callable(answer) else answer

        sl.register_frame_format("own", recognise=lambda p, h: h == b"OWN", read=read)
        text = refusal(path)
        assert "the reader 'own' (registered in this process)" in text and "e.dat" in text
        return text

    counts = np.ones((2, 3), int)
    assert "failed on" in words(lambda: 1 / 0) and "ZeroDivisionError: division by zero" in words(lambda: 1 / 0)
    assert "gave a NoneType" in words(None)
    assert "counts of 4 dimensions" in words(np.ones((2, 2, 2, 2))) and "2 x 2 x 2 x 2" in words(np.ones((2, 2, 2, 2)))
    assert "are of type complex128" in words(counts * 1j)
    assert "are of type bool" in words(counts > 0)
    assert "is empty" in words(counts[:0])
    assert "2 exposure times for 1 exposures" in words(sl.RawFrames(counts, exposures_s=[1, 2]))
    assert "number 0 of the exposure times is -1" in words(sl.RawFrames(counts, exposures_s=-1))
    assert "is 3 x 2, the frames are 2 x 3" in words(sl.RawFrames(counts, masked=counts.T))
    assert "its mask has 1 dimensions" in words(sl.RawFrames(counts, masked=[True]))
    assert "Did you mean 'distance_mm'?" in words(sl.RawFrames(counts, metadata={"distance_m": 0.6}))
    assert "its metadata says distance_mm = 'far'" in words(sl.RawFrames(counts, metadata={"distance_mm": "far"}))
    assert "not a mapping" in words(sl.RawFrames(counts, metadata=[1]))
    assert "could not convert string" in words(sl.RawFrames(counts, exposures_s="long"))

    class Lies:
        shape, dtype = (2, 2, 3), np.dtype("int64")

        def __getitem__(self, index):
            return np.ones((3, 3), int)

    assert "gave 3 x 3 of int64 for frame 0" in words(Lies()) and "2 x 3 of int64 was announced" in words(Lies())
    Lies.__getitem__ = lambda self, index: np.ones((2, 3), "f4")
    assert "gave 2 x 3 of float32" in words(Lies())
    Lies.__getitem__ = lambda self, index: {}[index]
    assert "failed on frame 0" in words(Lies())
    # The caller's own mistakes are his, and a reader that speaks our way is heard unchanged.
    with pytest.raises(sl.InputError, match="saturation_value is -1"):
        sl.open_frames(path, saturation_value=-1)

    def speaks(_):
        raise sl.DataError("Half of it is missing.\nCopy it again.")

    sl.register_frame_format("own", recognise=lambda p, h: True, read=speaks)
    assert refusal(path) == "Half of it is missing.\nCopy it again."


def test_two_readers_that_claim_one_file_are_both_named(site, tmp_path):
    install(site, "ring-camera")
    path = write_camera(tmp_path / "a.dat", some_counts())
    sl.register_frame_format("other", recognise=lambda p, h: True, read=lambda p: np.ones((2, 2)))
    text = refusal(path)
    assert "is claimed by 2 readers: 'ring camera' (package ring-camera 0.3) and 'other' (registered" in text
    assert "forget_frame_format" in text
    sl.forget_frame_format("other")
    # Under the installed one's name the registered one stands in for it.
    sl.register_frame_format("ring camera", recognise=lambda p, h: True, read=lambda p: np.ones((2, 2)))
    assert sl.open_frames(path).rows == 2


def test_a_broken_package_hides_no_other_format(site, tmp_path):
    install(site, "gone-camera", "import a_module_that_is_not_there", format_name="gone")
    install(site, "half-camera", "def recognise(path, head):\n    return True\n", format_name="half")
    install(site, "text-camera", CAMERA, format_name="TIFF")
    np.save(tmp_path / "x.npy", np.ones((2, 3), int))
    notes = "\n".join(sl.open_frames(tmp_path / "x.npy").metadata.notes)
    assert "the reader 'gone' (package gone-camera 0.3) cannot be used: ModuleNotFoundError" in notes
    assert "has no function `read`" in notes
    assert "cannot be called 'TIFF'" in notes
    path = write_camera(tmp_path / "a.dat", some_counts())
    assert "ModuleNotFoundError" in refusal(path)  # it may well have been the one to open this


def test_a_reader_that_fails_to_look_is_passed_over_in_words(here, tmp_path):
    def recognise(path, head):
        return head[5000] == 1

    sl.register_frame_format("short-sighted", recognise=recognise, read=lambda p: None)
    np.save(tmp_path / "x.npy", np.ones((2, 3), int))
    notes = sl.open_frames(tmp_path / "x.npy").metadata.notes
    assert any("the reader 'short-sighted'" in n and "failed to look at this file: IndexError" in n for n in notes)
    (tmp_path / "y.dat").write_bytes(b"\x01\x02\x03")
    text = refusal(tmp_path / "y.dat")
    assert "not a file of a known kind" in text and "none claims it: 'short-sighted'" in text and "IndexError" in text


def test_what_is_no_format_is_refused(here):
    def anything(*_):
        return True

    for name in ("", "  ", "hdf5", "text", 3):
        with pytest.raises(sl.InputError, match="cannot be called"):
            sl.register_frame_format(name, recognise=anything, read=anything)
    with pytest.raises(sl.InputError, match="has no function `read`"):
        sl.register_frame_format("own", recognise=anything, read=None)


def test_missing_and_empty_files_have_the_usual_words(here, tmp_path):
    sl.register_frame_format("own", recognise=lambda p, h: True, read=lambda p: np.ones((2, 2)))
    assert "There is no file" in refusal(tmp_path / "none")
    assert "is a folder" in refusal(tmp_path)
    (tmp_path / "empty").write_bytes(b"")
    assert "is empty" in refusal(tmp_path / "empty")


def test_an_added_format_may_claim_what_a_built_in_one_reads_but_not_a_named_data_set(here, tmp_path):
    import h5py

    path = tmp_path / "x.h5"
    with h5py.File(path, "w") as file:
        file["a"] = np.ones((2, 3), int)
    sl.register_frame_format("own", recognise=lambda p, h: p.suffix == ".h5", read=lambda p: np.ones((5, 5)))
    assert sl.open_frames(path).rows == 5
    assert sl.open_frames(path, dataset="/a").rows == 2


def test_opened_files_travel_where_the_format_is_known(site, tmp_path):
    install(site, "ring-camera")
    path = write_camera(tmp_path / "a.dat", some_counts())
    parcel = pickle.dumps(sl.open_frames(path, exposure_s=3))
    again = pickle.loads(parcel)
    assert again.format == "ring camera" and again.read_sum().exposure_s == 9
    # A text file that an added format claims is another thing where the format is not known.
    strip = tmp_path / "strip.txt"
    strip.write_text("1\n2\n3\n")
    sl.register_frame_format("own", recognise=lambda p, h: p.suffix == ".txt", read=lambda p: np.ones((2, 2)))
    parcel = pickle.dumps(sl.open_frames(strip))
    sl.forget_frame_format("own")
    with pytest.raises(sl.DataError, match="was opened as 'own' and is 'text' in this process"):
        pickle.loads(parcel)


# ---------------------------------------------------------------------------------------------------------- studies


def as_camera(folder):
    """Rewrite the frames of a study in the camera's format, what the files say with them."""
    with open(folder / "measurements.csv", newline="") as file:
        table = list(csv.DictReader(file))
    for row in table:
        path = folder / row["file"]
        opened = sl.open_frames(path)
        frames = [opened.read(i) for i in range(opened.count)]
        counts = np.array([np.where(f.masked, -1, f.counts) for f in frames]).astype("<i4")
        row["file"] = row["file"].replace(".h5", ".ring")
        write_camera(folder / row["file"], counts, seconds=frames[0].exposure_s)
        path.unlink()
    with open(folder / "measurements.csv", "w", newline="") as file:
        writer = csv.DictWriter(file, table[0].keys())
        writer.writeheader()
        writer.writerows(table)


def values(result):
    return {s.name: s.summary["x50_nm"].value for s in result.samples}


@pytest.mark.slow
def test_a_study_and_its_workers_read_an_installed_format(site, study):
    folder, _ = study
    install(site, "ring-camera")
    as_camera(folder)
    from sievelight.study import LocalCrew

    here = sl.run_study(folder / "study.toml")
    there = sl.run_study(folder / "study.toml", executor=LocalCrew(2), output=folder / "by-workers")
    assert len(values(here)) == 6 and values(here) == values(there)
    version = here.record["versions"]["frame format 'ring camera'"]
    assert version.startswith("0.3 ") and len(version.split()[1]) == 12
    again = sl.run_study(folder / "study.toml")
    assert again.redone == []
    # Another source is another reader: nothing of what the earlier one read stands.
    frame_formats._installed.cache_clear()
    (site / "ring_camera.py").write_text(CAMERA + "\n# mended\n")
    sys.modules.pop("ring_camera")
    import linecache

    linecache.clearcache()
    assert len(sl.run_study(folder / "study.toml").redone) == 6


@pytest.mark.slow
def test_workers_say_that_a_registered_format_is_not_theirs(here, study):
    folder, _ = study
    as_camera(folder)
    space: dict = {}
    exec(CAMERA, space)
    sl.register_frame_format("ring camera", recognise=space["recognise"], read=space["read"])
    from sievelight.study import LocalCrew

    result = sl.run_study(folder / "study.toml", executor=LocalCrew(2))
    errors = [f for f in result.findings if f.severity == "error"]
    assert not result.samples and len(errors) >= 6
    assert "does not know the frame format 'ring camera'" in errors[0].finding
    assert "entry point of the group 'sievelight.frames'" in errors[0].mend
    assert len(sl.run_study(folder / "study.toml").samples) == 6


@pytest.mark.slow
def test_a_script_that_registers_at_its_top_level_brings_its_workers_along(study):
    folder, _ = study
    as_camera(folder)
    (folder / "script.py").write_text(
        CAMERA
        + """
sl.register_frame_format("ring camera", recognise=recognise, read=read)

if __name__ == "__main__":
    from sievelight.study import LocalCrew
    result = sl.run_study("study.toml", executor=LocalCrew(2))
    print(len(result.samples), [f.finding for f in result.findings if f.severity == "error"])
"""
    )
    done = subprocess.run([sys.executable, "script.py"], cwd=folder, capture_output=True, text=True)
    assert done.stdout.strip() == "6 []", done.stdout + done.stderr


def test_one_file_is_reduced_from_an_added_format(site, small_demo, tmp_path):
    install(site, "ring-camera")
    opened = sl.open_frames(small_demo / "frames" / "k1-a.h5")
    frames = [opened.read(i) for i in range(opened.count)]
    counts = np.array([np.where(f.masked, -1, f.counts) for f in frames]).astype("<i4")
    path = write_camera(tmp_path / "k1-a.ring", counts, seconds=frames[0].exposure_s)
    instrument = small_demo / "study.toml"
    mine = sl.reduce_file(path, instrument=instrument).curve
    theirs = sl.reduce_file(small_demo / "frames" / "k1-a.h5", instrument=instrument).curve
    # The file's mask travels as markers, so the same pixels count; only the monitor is not told.
    assert np.allclose(mine.intensity / mine.intensity[0], theirs.intensity / theirs.intensity[0], rtol=1e-12)
