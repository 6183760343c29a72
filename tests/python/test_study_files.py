# SPDX-License-Identifier: GPL-3.0-or-later
"""Files appear whole or not at all; names never become paths; checkpoints give every number back."""

import math
import resource
import signal
from contextlib import contextmanager

import numpy as np
import pytest

import sievelight as sl
from sievelight.errors import DataError, InputError
from sievelight.files import safe_name, write_figure, write_text, write_together
from sievelight.study.checkpoint import key_of, load_checkpoint, save_checkpoint


@contextmanager
def small_disk():
    """No file may grow beyond 4096 bytes, as on a full disk. Not a fixture: pytest's own log would not grow either."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    signals = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, signals)


def test_a_failure_leaves_the_old_files_and_no_leftover(tmp_path):
    one, two = tmp_path / "new" / "a.txt", tmp_path / "new" / "b.txt"
    write_together({one: "old", two: b"old"})
    with small_disk():
        with pytest.raises(DataError, match="disk or its quota is full"):
            write_together({one: "new", two: "x" * 5000})
        assert one.read_text() == two.read_text() == "old"
        with pytest.raises(DataError, match="disk or its quota is full"):
            save_checkpoint(one, "key", {"x": np.zeros(5000)})
    assert sorted(p.name for p in one.parent.iterdir()) == ["a.txt", "b.txt"]


def test_curves_and_distributions_are_whole_too(tmp_path):
    """HDF5 writes its caches when it closes a file: what fails then must not take the final name."""
    q = np.geomspace(0.1, 2, 200)
    curve = sl.Curve(q_per_nm=q, intensity=q**-2, private_u=0.1 * q, unit="1/cm")
    for write in (sl.write_csv, sl.write_nxcansas):
        (tmp_path / "c").write_text("old")
        with small_disk(), pytest.raises(DataError, match="disk or its quota is full"):
            write(tmp_path / "c", curve)
        assert (tmp_path / "c").read_text() == "old" and len(list(tmp_path.iterdir())) == 1


def test_a_picture_is_whole_and_its_name_says_its_format(tmp_path):
    from matplotlib.figure import Figure

    figure = Figure()
    write_figure(tmp_path / "a.svg", figure)
    assert (tmp_path / "a.svg").read_bytes().startswith(b"<?xml")
    with pytest.raises(InputError, match="names no format of a picture"):
        write_figure(tmp_path / "a.xyz", figure)
    assert len(list(tmp_path.iterdir())) == 1


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(DataError, match="cannot be written"):
        write_text(tmp_path / "file" / "a.txt", "x")


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/b", "..", ".hidden", "über Probe 1", "<script>", "a\\b", ""])
def test_names_never_become_paths(name, tmp_path):
    safe = safe_name(name)
    assert (tmp_path / safe).resolve().parent == tmp_path.resolve()
    assert safe not in (".", "..", "")


def test_different_names_get_different_files():
    assert safe_name("a/b") != safe_name("a_b") != safe_name("a b")
    assert safe_name("k1-a") == "k1-a"


def test_a_checkpoint_gives_every_number_back_and_only_under_its_key(tmp_path):
    content = {"x": np.array([0.1, math.pi, math.nan]), "list": [1.5, "ü", None], "nested": {"b": np.arange(3)}}
    path = tmp_path / "c.npz"
    save_checkpoint(path, "key", content)
    back = load_checkpoint(path, "key")
    assert np.array_equal(back["x"], content["x"], equal_nan=True)
    assert back["list"] == content["list"]
    assert np.array_equal(back["nested"]["b"], [0, 1, 2])
    assert load_checkpoint(path, "other") is None
    path.write_bytes(path.read_bytes()[:-20])
    assert load_checkpoint(path, "key") is None
    assert load_checkpoint(tmp_path / "none.npz", "key") is None


def test_the_key_changes_with_every_part():
    assert key_of("a", 1, {"x": 2}) == key_of("a", 1, {"x": 2})
    assert len({key_of("a", 1), key_of("a", 2), key_of("b", 1), key_of("a", "1")}) == 4
