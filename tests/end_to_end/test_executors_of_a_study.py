# SPDX-License-Identifier: GPL-3.0-or-later
"""The samples of a study on any executor and on a cluster: the same numbers, in order, whoever dies on the way."""

import gc
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest

from sievelight import curve as curves
from sievelight._core import thread_count
from sievelight.errors import InputError
from sievelight.study import LocalCrew, cluster_crew, run_study
from sievelight.study import crew as crews
from sievelight.study import task as tasks

TABLES = ("summary.csv", "batches.csv", "findings.csv")


def tables(folder):
    return {name: (folder / name).read_bytes() for name in TABLES}


def curve_study(folder, count, points=80, method="evidence"):
    """Curves of spheres (form factor: Rayleigh 1911) of slowly growing size, each with noise of its own."""
    q = np.geomspace(0.1, 2.5, points)
    rows = ["name,role,batch,file"]
    for i in range(count):
        x = q * (5 + 0.01 * i)
        truth = 50 * (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 + 0.05
        u = 0.03 * truth + 1e-3
        noisy = truth + u * np.random.default_rng(i).standard_normal(q.size)
        made = curves.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm")
        curves.write_csv(folder / f"c{i}.csv", made)
        rows.append(f"c{i},curve,{'one' if i % 2 else 'two'},c{i}.csv")
    (folder / "measurements.csv").write_text("\n".join(rows) + "\n")
    path = folder / "study.toml"
    path.write_text(
        f'[distribution]\nmethod = "{method}"\nwhat_if = "none"\npower_law = false\ncontrast_per_cm2 = 1e11\n'
    )
    return path


def spawned(workers):
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"))


def test_every_executor_gives_the_same_bytes_in_the_table_s_order(study, tmp_path):
    folder, edit = study
    edit("k2-a", thickness_mm="-1")  # one that fails by its row, one by its file
    (folder / "frames" / "k3-b.h5").write_bytes(b"no frame")
    path = folder / "study.toml"
    alone = run_study(path, output=tmp_path / "alone")
    assert alone.redone == [s.name for s in alone.samples] and len(alone.samples) >= 4
    assert set(alone.failed) >= {"k2-a", "k3-b"}
    for name, make in {"threads": lambda: ThreadPoolExecutor(3), "processes": lambda: spawned(2)}.items():
        with make() as executor:
            result = run_study(path, executor=executor, output=tmp_path / name)
        assert tables(tmp_path / name) == tables(tmp_path / "alone"), name
        assert result.record["numbers"] == alone.record["numbers"]
        for a, b in zip(alone.samples, result.samples, strict=True):
            assert np.array_equal(a.curve.intensity, b.curve.intensity) and np.array_equal(
                a.size.q3_per_nm, b.size.q3_per_nm
            )
            assert all(np.array_equal(a.influence[k], b.influence[k]) for k in a.influence)
    result = run_study(path, executor=LocalCrew(2), output=tmp_path / "crew")
    assert tables(tmp_path / "crew") == tables(tmp_path / "alone")
    assert str(folder) not in (tmp_path / "alone" / "findings.csv").read_text()


def test_a_study_is_done_from_its_own_folder_too(tmp_path, monkeypatch):
    curve_study(tmp_path, 2)
    away = tables(run_study(tmp_path / "study.toml", output=tmp_path / "away").output)
    monkeypatch.chdir(tmp_path)
    with spawned(1) as executor:
        result = run_study("study.toml", executor=executor)
    assert tables(tmp_path / "results") == away and not result.output.is_absolute()


class Counting(Executor):
    """Does tasks only when their results are asked for, and remembers how many were handed out and unfinished."""

    def __init__(self):
        self.threads, self.unfinished, self.most = ThreadPoolExecutor(2), 0, 0
        self._max_workers = 2

    def submit(self, call, /, *args, **options):
        self.unfinished += 1
        self.most = max(self.most, self.unfinished)
        future = self.threads.submit(call, *args, **options)
        future.add_done_callback(self.finished)
        return future

    def finished(self, _):
        self.unfinished -= 1

    def shutdown(self, wait=True, *, cancel_futures=False):
        self.threads.shutdown(wait=wait, cancel_futures=cancel_futures)


def test_only_a_few_tasks_are_handed_out_at_once_and_progress_counts_what_is_left(tmp_path):
    path = curve_study(tmp_path, 12)
    seen = []
    with Counting() as executor:
        run_study(path, executor=executor, progress=lambda *step: seen.append(step))
    assert 2 < executor.most <= crews.IN_HAND * 2
    assert [done for done, _, _ in seen] == sorted(done for done, _, _ in seen) and seen[-1][0] == seen[-1][1] == 15
    (tmp_path / "results" / "checkpoints" / "c7.npz").unlink()
    seen.clear()
    assert run_study(path, progress=lambda *step: seen.append(step)).redone == ["c7"]
    assert seen[-1][:2] == (4, 4) and any("11 stand already" in what for _, _, what in seen)


def test_what_raises_inside_a_task_is_a_finding_of_its_row(tmp_path, monkeypatch):
    path = curve_study(tmp_path, 3)
    real = tasks.process_curve

    def sometimes(settings, folder, m, own, **options):
        if m.name == "c1":
            raise ZeroDivisionError("by design")
        return real(settings, folder, m, own, **options)

    monkeypatch.setattr(tasks, "process_curve", sometimes)
    with ThreadPoolExecutor(2) as executor:
        result = run_study(path, executor=executor)
    assert [s.name for s in result.samples] == ["c0", "c2"] and result.failed == ["c1"]
    assert "ZeroDivisionError: by design" in result.findings[0].finding


def test_an_executor_that_fails_is_told_for_each_row(tmp_path):
    path = curve_study(tmp_path, 3)

    class Refusing(Executor):
        def submit(self, call, /, *args, **options):
            future = Future()
            future.set_exception(TypeError("cannot carry this"))
            return future

    result = run_study(path, executor=Refusing())
    assert result.failed == ["c0", "c1", "c2"] and "cannot carry this" in result.findings[0].finding
    closed = ThreadPoolExecutor(1)
    closed.shutdown()
    assert "the executor or the cluster was lost" in run_study(path, executor=closed).findings[0].finding

    class Forgetful(crews.Crew):  # as a cluster whose scheduler is gone: its futures never end
        def lost(self):
            return True

    class Silent(Executor):
        def submit(self, call, /, *args, **options):
            return Future()

    result = run_study(path, executor=Forgetful(Silent(), 1))
    assert result.failed == ["c0", "c1", "c2"] and "cluster was lost" in result.findings[2].finding
    assert run_study(path).failed == []


# A worker imports this through the environment and dies in the middle of one sample, once or always.
DYING = """
import os, sys
from sievelight.study import task
real = task.process_curve
def process_curve(settings, folder, m, own, **options):
    if m.name == os.environ["DIES_AT"]:
        mark = os.path.join(folder, "died")
        if os.environ["DIES"] == "always" or not os.path.exists(mark):
            open(mark, "w").close()
            os._exit(9)
    return real(settings, folder, m, own, **options)
task.process_curve = process_curve
"""


@pytest.fixture
def dying(tmp_path, monkeypatch):
    """`dying(name, how)`: worker processes that start from now on die at that sample, once or always."""
    site = tmp_path / "site"
    site.mkdir()
    (site / "dying_worker.py").write_text(DYING)

    def set_up(name, how):
        monkeypatch.setenv("PYTHONPATH", str(site) + os.pathsep + os.environ.get("PYTHONPATH", ""))
        monkeypatch.syspath_prepend(str(site))
        monkeypatch.setenv("DIES_AT", name)
        monkeypatch.setenv("DIES", how)
        monkeypatch.setattr(crews, "_as_worker", __import__("dying_worker_start").start)

    (site / "dying_worker_start.py").write_text("def start(threads):\n    import dying_worker\n")
    return set_up


def test_a_worker_that_dies_is_replaced_and_its_task_done_again(tmp_path, dying):
    path = curve_study(tmp_path, 6)
    want = run_study(path, output=tmp_path / "alone")
    dying("c2", "once")
    result = run_study(path, executor=LocalCrew(2))
    assert result.failed == [] and (tmp_path / "died").exists()
    assert result.record["numbers"] == want.record["numbers"]


def test_a_sample_that_always_kills_its_worker_costs_itself_alone(tmp_path, dying):
    path = curve_study(tmp_path, 6)
    dying("c2", "always")
    result = run_study(path, executor=LocalCrew(2))
    assert result.failed == ["c2"] and len(result.samples) == 5
    assert "died" in result.findings[0].finding and "memory" in result.findings[0].mend


def test_a_worker_uses_one_thread_and_the_study_s_process_keeps_its_own(tmp_path, monkeypatch):
    monkeypatch.delenv("SIEVELIGHT_THREADS", raising=False)
    path = curve_study(tmp_path, 2)
    run_study(path)
    assert "SIEVELIGHT_THREADS" not in os.environ
    with spawned(1) as executor:
        run_study(path, executor=executor, output=tmp_path / "there")
        assert executor.submit(thread_count).result() == 1
    monkeypatch.setattr(crews, "available_cores", lambda: 7)
    crew = LocalCrew()
    crew.start(3)  # no more processes than tasks: each gets its share of the cores
    assert crew.room() == 3 * crews.IN_HAND and crew.executor.submit(thread_count).result() == 2
    crew.close()


def test_a_worker_that_sees_other_frames_says_so(study, tmp_path, monkeypatch):
    folder, _ = study
    real = tasks.landmarks
    monkeypatch.setattr("sievelight.study.run.landmarks", lambda shared: real(shared) | {"distance": 999.0})
    with spawned(1) as executor:
        result = run_study(folder / "study.toml", executor=executor)
    assert result.samples == [] and "other shared measurements" in result.findings[0].finding
    assert "distance" in result.findings[0].finding


@pytest.mark.slow
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_study_that_is_stopped_goes_on_from_its_finished_samples(tmp_path, how):
    path = curve_study(tmp_path, 14, method="sampled")
    begun = subprocess.Popen(
        [sys.executable, "-m", "sievelight", "run", str(path), "--workers", "2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        # A background job of a shell inherits an ignored SIGINT, which Python then leaves ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    checkpoints = tmp_path / "results" / "checkpoints"
    wait_until(lambda: len(list(checkpoints.glob("c*.npz"))) >= 3)
    begun.send_signal(how)
    said = begun.communicate(timeout=60)[0]
    assert begun.returncode == (130 if how == signal.SIGINT else -signal.SIGKILL)
    assert "Traceback" not in said and (how == signal.SIGKILL or "stopped" in said)
    time.sleep(1)  # workers of a killed process end with it
    stand = {p.stem for p in checkpoints.glob("c*.npz")}
    assert 3 <= len(stand) < 14
    time.sleep(3)
    assert {p.stem for p in checkpoints.glob("c*.npz")} == stand, "somebody still works"
    result = run_study(path)
    assert set(result.redone) == {f"c{i}" for i in range(14)} - stand and len(result.samples) == 14


def wait_until(true, limit_s=60):
    until = time.monotonic() + limit_s
    while not true():
        assert time.monotonic() < until, "waited too long"
        time.sleep(0.05)


def test_the_command_shares_samples_out_and_refuses_two_kinds_of_workers(tmp_path):
    path = curve_study(tmp_path, 4)
    call = [sys.executable, "-m", "sievelight", "run", str(path)]
    done = subprocess.run([*call, "--workers", "2"], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "[7/7] writing the report" in done.stderr
    both = subprocess.run([*call, "--workers", "2", "--cluster", "tcp://x:1"], capture_output=True, text=True)
    assert both.returncode == 2 and "--cluster" in both.stderr and "Traceback" not in both.stderr


def test_an_unreachable_cluster_is_told_within_its_time_limit():
    pytest.importorskip("distributed", reason="Dask distributed (the extra 'cluster') is not installed")
    begun = time.monotonic()
    with pytest.raises(InputError, match="no Dask scheduler answers at 'tcp:"):
        with cluster_crew("tcp://127.0.0.1:9", time_limit_s=2):
            pass
    assert time.monotonic() - begun < 20
    with pytest.raises(InputError, match="no Dask scheduler answers"):
        with cluster_crew("no address at all", time_limit_s=2):
            pass


def test_a_connection_that_failed_leaves_nothing_behind():
    """A half-made client that is collected later closes itself inside whatever Dask does then, and both wait for ever."""
    distributed = pytest.importorskip("distributed", reason="Dask distributed (the extra 'cluster') is not installed")
    gc.collect()
    gc.disable()  # from here on only what collects on purpose does
    try:
        before = sum(isinstance(thing, distributed.Client) for thing in gc.get_objects())
        with pytest.raises(InputError):
            with cluster_crew("tcp://127.0.0.1:9", time_limit_s=1):
                pass
        assert sum(isinstance(thing, distributed.Client) for thing in gc.get_objects()) == before
    finally:
        gc.enable()


def test_a_cluster_without_dask_names_the_extra(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"sievelight\[cluster\]"):
        with cluster_crew("tcp://127.0.0.1:9"):
            pass


@pytest.fixture
def cluster():
    """A real cluster on this machine: a scheduler and two worker processes that are started anew when they die."""
    distributed = pytest.importorskip("distributed", reason="Dask distributed (the extra 'cluster') is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as made:
        yield made


@pytest.mark.slow
def test_a_cluster_loses_a_worker_in_the_middle_and_the_numbers_are_the_same(cluster, tmp_path):
    path = curve_study(tmp_path, 16, method="sampled")
    want = run_study(path, output=tmp_path / "alone")
    killed = []

    def kill_one(done, total, what):
        if what.startswith("c") and done >= 4 and not killed:
            pid = next(nanny.pid for nanny in cluster.workers.values() if nanny.pid)
            killed.append(pid)
            os.kill(pid, signal.SIGKILL)

    with cluster_crew(cluster.scheduler_address) as crew:
        result = run_study(path, executor=crew, progress=kill_one)
    assert killed and result.failed == [] and len(result.samples) == 16
    assert tables(tmp_path / "results") == tables(tmp_path / "alone")
    assert result.record["numbers"] == want.record["numbers"]


@pytest.mark.slow
def test_frames_are_reduced_on_a_cluster(cluster, study, tmp_path):
    folder, _ = study
    want = run_study(folder / "study.toml", output=tmp_path / "alone")
    with cluster_crew(cluster.scheduler_address) as crew:
        result = run_study(folder / "study.toml", executor=crew)
    assert tables(folder / "results") == tables(tmp_path / "alone") and result.failed == want.failed == []
