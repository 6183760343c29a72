# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames that arrive while they are followed: the demo's frames, thinned into short ones and written by a thread."""

import json
import shutil
import threading
import time
from pathlib import Path

import h5py
import numpy as np
import pytest
from study_tools import write_frame

from sievelight import InputError, follow_study
from sievelight.study import follow

MEASURED = Path(__file__).resolve().parents[2] / "build" / "measured"
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


def grow(path, frames, pause_s):
    """A detector that appends to one stack: open, append, close, again and again; a reader at work makes it try again."""
    for k, counts in enumerate(frames):
        for _ in range(200):
            try:
                with h5py.File(path, "a") as file:
                    if k == 0:
                        entry = file.create_group("entry")
                        entry.attrs["NX_class"] = "NXentry"
                        detector = entry.create_group("instrument/detector")
                        entry["instrument"].attrs["NX_class"] = "NXinstrument"
                        detector.attrs["NX_class"] = "NXdetector"
                        shape = counts.shape
                        detector.create_dataset("data", (0, *shape), "u4", maxshape=(None, *shape), chunks=(1, *shape))
                        detector["count_time"] = 0.2
                        detector["count_time"].attrs["units"] = "s"
                    data = file["entry/instrument/detector/data"]
                    data.resize(k + 1, axis=0)
                    data[k] = counts
                break
            except OSError:  # the reader has it open at this moment
                time.sleep(0.01)
        else:
            raise RuntimeError("the stack could not be opened for two seconds")
        time.sleep(pause_s)


def test_a_single_stack_that_grows_is_followed(arriving):
    folder, ready, ask = arriving
    path = ask("target_percent = 0.8\n")
    table = folder / "measurements.csv"
    table.write_text(table.read_text().replace("frames/k1-a,", "frames/growing.h5,"))
    failed = []

    def write_all():
        try:
            grow(folder / "frames" / "growing.h5", ready, 0.02)
        except Exception as error:
            failed.append(error)

    writer = threading.Thread(target=write_all)
    writer.start()
    try:
        done = follow_study(path, name="k1-a", poll_s=0.05, patience_s=60)
    finally:
        writer.join()
    assert not failed
    assert done.reached and done.looks[-1].u_percent <= 0.8
    assert done.looks[-1].exposure_s == pytest.approx(0.2 * done.looks[-1].frames)
    assert [look.frames for look in done.looks] == sorted({look.frames for look in done.looks})
    assert abs(done.looks[-1].value / 14 - 1) < 0.03 + 0.03


@pytest.mark.slow
def test_stopping_at_the_target_saves_time_on_the_demo(study, monkeypatch):
    """A fixed protocol of 4 x 5 s against stopping where x50 is known to 0.5 %: how much beam time that saves, and whether
    what was known then is true. Frames of 0.2 s come one by one."""
    folder, edit = study
    truth = json.loads((folder / "truth.json").read_text())["measurements"]
    with open(folder / "study.toml", "a") as file:
        file.write("\n[plan]\ntarget_percent = 0.5\n")
    fixed_s, saved, pulls = 20.0, [], []
    arrived = follow._arrived
    for name in ("k1-a", "k2-b", "k3-a"):
        (folder / "frames" / name).mkdir()
        edit(name, file=f"frames/{name}", exposure_s="0.2")
        for k, counts in enumerate(
            short_frames(folder, name)
        ):  # two exposures of 5 s are 50 frames, enough for the target
            write_frame(folder / "frames" / name / f"{k:03d}.h5", counts, 0.2)

        def one_by_one(place, dataset, known):
            count, files = arrived(place, dataset, known)
            return min(count, known + 1), files[: known + 1]

        monkeypatch.setattr(follow, "_arrived", one_by_one)
        done = follow_study(folder / "study.toml", name=name, poll_s=0.0, patience_s=60)
        assert done.reached, done.ended
        last = done.looks[-1]
        saved.append(1 - last.exposure_s / fixed_s)
        true = truth[name]["within_window"]["x50_nm"]
        pulls.append((last.value / true - 1) / (last.u_percent / 100))
    MEASURED.mkdir(parents=True, exist_ok=True)
    (MEASURED / "saved_by_stopping.json").write_text(
        json.dumps({"fixed_s": fixed_s, "target_percent": 0.5, "saved_share": saved, "pulls": pulls}, indent=1) + "\n"
    )
    # 20 s give x50 to 0.2 %; it falls as exposure^-0.41, so 0.5 % takes (0.2 / 0.5)^(1 / 0.41), a tenth of the time or so.
    assert min(saved) > 0.5, saved
    # Three of them, calibration shared: each within three of what was stated when it was stopped.
    assert np.max(np.abs(pulls)) < 3, pulls


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
