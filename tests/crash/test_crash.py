# SPDX-License-Identifier: GPL-3.0-or-later
"""Nothing is lost, doubled or half written: short forms of kill_study.py, and the faults of a night one by one."""

import os
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from sievelight.errors import DataError, InputError
from sievelight.study import check_record, hold, run_study
from sievelight.study import task as tasks
from sievelight.study.hold import output_held

sys.path.insert(0, str(Path(__file__).resolve().parent))
import kill_study
from crash_tools import Run, build_faults, leftovers, make_study, results, standing


@pytest.fixture(scope="session")
def faults(tmp_path_factory):
    library = build_faults(tmp_path_factory.mktemp("faults"))
    if library is None:
        pytest.skip("no C compiler (cc): the library of faults cannot be built")
    return library


@pytest.fixture
def made(tmp_path):
    return make_study(tmp_path / "study", 3)


@pytest.mark.slow
def test_a_study_killed_at_random_moments_goes_on_to_the_same_files(tmp_path):
    met = kill_study.kill_at_moments(make_study(tmp_path / "study", 4), 10, seed=4, say=lambda *_, **__: None)
    assert met["kills"] == 10


@pytest.mark.slow
def test_a_study_that_dies_at_any_call_to_the_disk_goes_on_to_the_same_files(tmp_path, faults):
    assert kill_study.die_at_calls(make_study(tmp_path / "study", 2), faults, 6, seed=4)["deaths"] == 6


@pytest.mark.slow
def test_a_disk_that_fills_costs_only_what_did_not_fit(tmp_path, faults):
    assert kill_study.fill_the_disk(make_study(tmp_path / "study", 2), faults, 3)["full disks"] == 3


@pytest.fixture
def small_disk(made):
    """A file system of 256 KB under the output folder."""
    output = made.parent / "results"
    output.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", output], capture_output=True)
    if done.returncode:
        pytest.skip("a small file system cannot be mounted here (that needs root); the library of faults stands in")
    yield output
    subprocess.run(["umount", output], check=True)


@pytest.mark.slow
def test_a_real_disk_that_is_full_is_told_in_words_and_the_next_run_goes_on(made, small_disk):
    code, said = Run.start(made).finish()
    assert code in (1, 2) and "disk or its quota is full" in said and "Traceback" not in said
    assert not leftovers(made)
    done = standing(made)
    assert len(done) < 3, "the disk was large enough; make it smaller"
    subprocess.run(["mount", "-o", "remount,size=64m", small_disk], check=True)
    assert set(run_study(made).redone) == {"s00000", "s00001", "s00002"} - done


def test_a_read_only_output_folder_is_told_before_any_work(made, faults):
    (made.parent / "results").mkdir()
    run = Run.start(made, library=faults, read_only=1)
    code, said = run.finish()
    assert code == 2 and "'results' cannot be written (Read-only file system)" in said.replace(
        str(made.parent) + os.sep, ""
    )
    assert "Traceback" not in said and not run.begun()


@pytest.mark.parametrize("moment", ["before its checksum", "before its row"])
def test_a_file_that_vanishes_costs_its_row_alone(made, moment):
    victim = made.parent / "s00002.h5"

    def progress(done, total, what):
        if what == ("s00000" if moment == "before its row" else "checksums of the inputs"):
            victim.unlink()

    result = run_study(made, progress=progress)
    assert result.failed == ["s00002"] and len(result.samples) == 2
    said = result.findings[0]
    assert ("s00002.h5" in said.finding and "There is no file" in said.finding) or "cannot be read" in said.finding
    assert not standing(made) & {"s00002"}


def test_a_file_that_changes_during_the_run_does_not_stand_under_its_old_checksum(made):
    folder = made.parent

    def progress(done, total, what):
        if what == "s00000":  # as a copy that was still under way
            (folder / "s00002.h5").write_bytes((folder / "s00001.h5").read_bytes())

    result = run_study(made, progress=progress)
    assert result.failed == ["s00002"] and "was changed while the study ran" in result.findings[0].finding
    again = run_study(made)
    assert again.redone == ["s00002"] and again.failed == []


def test_a_run_that_dies_between_files_never_leaves_an_old_checkpoint_beside_newer_ones(made, monkeypatch):
    """Inputs that are brought back after such a death must not find their checkpoint valid, with another's curve."""
    folder, old = made.parent, run_study(made)
    curve = folder / "results" / "curves" / "s00001.h5"
    before, frames = curve.read_bytes(), (folder / "s00001.h5").read_bytes()
    (folder / "s00001.h5").write_bytes((folder / "s00002.h5").read_bytes())

    def dies(*args):
        raise SystemExit("killed before the checkpoint")

    with monkeypatch.context() as patched, pytest.raises(SystemExit):
        patched.setattr(tasks, "save_checkpoint", dies)
        run_study(made)
    assert curve.read_bytes() != before
    (folder / "s00001.h5").write_bytes(frames)
    again = run_study(made)
    assert again.redone == ["s00001"] and curve.read_bytes() == before
    assert again.record["numbers"] == old.record["numbers"]


@pytest.mark.slow
def test_a_second_run_is_kept_out_by_name_and_a_dead_one_leaves_no_lock(made):
    first = Run.start(make_study(made.parent, 30))
    while not standing(made):
        assert first.process.poll() is None, first.finish()
    call = [sys.executable, "-m", "sievelight", "run", str(made)]
    second = subprocess.run(call, capture_output=True, text=True)
    assert second.returncode == 2 and "Traceback" not in second.stderr
    assert re.search(rf"another run writes to .*: process {first.process.pid} on \S+, since 2", second.stderr)
    with pytest.raises(InputError, match=f"process {first.process.pid} on"):
        run_study(made)
    assert first.process.poll() is None, "the first was disturbed"
    first.kill(group=False)
    assert (made.parent / "results" / hold.NAME).exists()
    assert run_study(made).failed == [] and not leftovers(made)


def test_threads_of_one_process_are_kept_apart_too(made):
    output, refused = made.parent / "results", []

    def try_it():
        try:
            run_study(made)
        except InputError as error:
            refused.append(str(error))

    with output_held(output):
        thread = threading.Thread(target=try_it)
        thread.start()
        thread.join()
    assert "of this very process" in refused[0]
    assert run_study(made).failed == []
    with pytest.raises(ZeroDivisionError), output_held(output):
        raise ZeroDivisionError
    with output_held(output) as locked:
        assert locked


def test_what_killed_writers_left_is_removed_and_other_files_are_not(made):
    for folder in ("", "curves", "checkpoints"):
        (made.parent / "results" / folder).mkdir(parents=True, exist_ok=True)
        (made.parent / "results" / folder / ".77-0123456789abcdef.part").write_text("half")
    kept = made.parent / "results" / "curves" / ".mine.part"
    kept.write_text("")
    run_study(made)
    assert leftovers(made) == [str(kept)]


def test_a_file_system_without_locks_is_told(made, monkeypatch):
    def none(*args):
        raise OSError(37, "No locks available")

    monkeypatch.setattr(hold.fcntl, "lockf", none)
    result = run_study(made)
    assert len(result.samples) == 3 and any("has no locks" in f.finding for f in result.findings)


def test_a_check_that_was_killed_leaves_nothing_and_one_at_work_is_left_alone(made, monkeypatch):
    run_study(made)
    dead, busy = made.parent / ".again-dead", made.parent / ".again-busy"
    dead.mkdir()
    (dead / hold.NAME).write_text("process 1 on nowhere")
    holder = "import sys, time; from pathlib import Path; from sievelight.study.hold import output_held\n"
    holder += "with output_held(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", holder, str(busy)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout.readline() == "held\n"
        assert check_record(made.parent / "results" / "record.json").reproduced
        assert busy.exists() and not dead.exists()
        other.communicate()

    def no_folder(*args, **options):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("tempfile.TemporaryDirectory", no_folder)
    with pytest.raises(DataError, match="No folder can be made beside"):
        check_record(made.parent / "results" / "record.json")


def test_a_folder_that_cannot_be_made_is_told(made):
    (made.parent / "results").write_text("a file")
    with pytest.raises(DataError, match="results' cannot be written"):
        run_study(made)


@pytest.mark.slow
@pytest.mark.parametrize(("how", "code"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_a_signal_stops_in_order_with_a_stable_exit_code(tmp_path, how, code):
    made = make_study(tmp_path / "study", 30)
    run = Run.start(made, workers=2)
    while not standing(made):
        assert run.process.poll() is None, run.finish()
    run.process.send_signal(how)
    ended, said = run.finish()
    assert ended == code and "no file is left half written" in said and "Traceback" not in said
    assert not leftovers(made)
    stood = standing(made)
    assert stood and not set(run_study(made).redone) & stood


@pytest.mark.slow
def test_a_clock_that_jumps_changes_nothing_and_time_left_stays_sensible(made, faults):
    run_study(made)
    want = {n: d for n, d in results(made).items() if n != "report.html"}
    for file in (made.parent / "results").rglob("*.*"):
        file.unlink()
    code, said = Run.start(made, library=faults, jump=1).finish()
    assert code == 0, said
    found = results(made)
    assert {n: found[n] for n in want} == want
    left = re.findall(r"about (.*) left", said)
    assert left and all(re.fullmatch(r"0:0\d:\d\d", text) for text in left), said
