# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames that arrive while they are followed: the demo's frames, thinned into short ones and written by a thread."""

import shutil
import threading
import time

import h5py
import numpy as np
import pytest
from study_tools import write_frame

from sievelight import InputError, follow_study

SHORT = 25  # short frames from each exposure of 5 s: 0.2 s


def short_frames(folder, name):
    """The exposures of a row, every count thrown into one of SHORT frames: Poisson counts stay so when they are thinned."""
    with h5py.File(folder / "frames" / f"{name}.h5") as file:
        found = []
        file.visititems(lambda _, item: found.append(item[()]) if getattr(item, "ndim", 0) == 3 else None)
    rng = np.random.default_rng(5)
    for exposure in found[0]:
        left = np.clip(exposure, 0, None).astype(np.int64)
        left[left > 1e6] = 0  # markers of defects stay in no frame; the mask knows them
        for k in range(SHORT):
            part = rng.binomial(left, 1 / (SHORT - k))
            left = left - part
            yield part.astype(np.uint32)


@pytest.fixture
def arriving(study):
    """The demo with its row k1-a not yet measured: (folder, its short frames, [plan] to add)."""
    folder, edit = study
    ready = list(short_frames(folder, "k1-a"))
    (folder / "frames" / "k1-a").mkdir()
    edit("k1-a", file="frames/k1-a", exposure_s="0.2")

    def ask(text):
        with open(folder / "study.toml", "a") as file:
            file.write("\n[plan]\n" + text)
        return folder / "study.toml"

    return folder, ready, ask


def write(folder, frames, pause_s):
    for k, counts in enumerate(frames):
        half = folder / "frames" / f".{k:03d}.h5"
        write_frame(half, counts, 0.2)
        shutil.move(half, folder / "frames" / "k1-a" / f"{k:03d}.h5")
        time.sleep(pause_s)


def test_the_target_precision_ends_it_before_the_frames_do(arriving):
    folder, ready, ask = arriving
    path = ask("target_percent = 0.8\n")
    writer = threading.Thread(target=write, args=(folder, ready, 0.05))
    writer.start()
    said = []
    try:
        done = follow_study(path, name="k1-a", poll_s=0.05, patience_s=60, tell=said.append)
    finally:
        writer.join()
    assert done.reached and done.looks[-1].u_percent <= 0.8
    assert all(look.u_percent > 0.8 for look in done.looks[:-1])
    # Each look stands for what had come by then, and the demo's pores are 14 nm, give or take what is stated.
    assert [look.frames for look in done.looks] == sorted({look.frames for look in done.looks})
    assert done.looks[-1].exposure_s == pytest.approx(0.2 * done.looks[-1].frames)
    assert abs(done.looks[-1].value / 14 - 1) < 0.03 + 0.03
    assert "moves no shutter" in done.lines()[-1] and "not of any verdict" in done.lines()[-1]
    assert len(said) >= len(done.looks)


def test_frames_that_stop_coming_and_a_wish_to_stop_end_it_cleanly(arriving):
    folder, ready, ask = arriving
    path = ask("target_percent = 0.001\n")
    write(folder, ready[:2], 0)
    (folder / "frames" / "k1-a" / "900.h5").write_bytes(b"half a frame")
    idle = follow_study(path, name="k1-a", poll_s=0.02, patience_s=0.3)
    assert not idle.reached and "No frame has come" in idle.ended and "2 were seen" in idle.ended
    stop = threading.Event()
    stop.set()
    assert "Stopped" in follow_study(path, name="k1-a", stop=stop).ended
    full = follow_study(path, name="k1-a", poll_s=0.02, most_frames=2)
    assert full.ended.startswith("2 frames have come") and not full.reached


def test_an_interrupt_ends_it_with_what_is_known(arriving, monkeypatch):
    folder, ready, ask = arriving
    path = ask("target_percent = 0.001\n")
    write(folder, ready[:1], 0)

    def interrupt(_):
        raise KeyboardInterrupt

    monkeypatch.setattr("sievelight.study.follow.time.sleep", interrupt)
    done = follow_study(path, name="k1-a")
    assert "Stopped after 1 frames" in done.ended


def test_what_cannot_be_followed_is_refused(arriving):
    _, _, ask = arriving
    path = ask("repeats = 1\n")
    with pytest.raises(InputError, match="has no target"):
        follow_study(path)
    path.write_text(path.read_text().replace("repeats = 1", "target_percent = 1.0"))
    with pytest.raises(InputError, match="no sample 'k1-z'"):
        follow_study(path, name="k1-z")
