# SPDX-License-Identifier: GPL-3.0-or-later
"""Files appear whole or not at all; names never become paths; checkpoints give every number back."""

import math

import numpy as np
import pytest

from sievelight.files import safe_name, whole_file, write_text
from sievelight.study.checkpoint import key_of, load_checkpoint, save_checkpoint


def test_a_failure_leaves_the_old_file_and_no_leftover(tmp_path):
    target = tmp_path / "a.txt"
    write_text(target, "old")
    with pytest.raises(RuntimeError), whole_file(target) as temporary:
        temporary.write_text("half of the n")
        raise RuntimeError("power cut")
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


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
