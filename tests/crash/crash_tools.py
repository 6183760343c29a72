# SPDX-License-Identifier: GPL-3.0-or-later
"""A study that is run under faults: its making, its runs in processes of their own, and what must hold afterwards."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
FOLDERS = ("curves", "distributions", "checkpoints")


def build_faults(folder: Path) -> Path | None:
    """The library of faults, compiled into a folder; None where there is no C compiler."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        return None
    library = folder / "faults.so"
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(HERE / "faults.c"), "-ldl"], check=True
    )
    return library


def make_study(folder: Path, samples: int = 6, method: str = "evidence") -> Path:
    """A study of that many samples in frames with a shared background; see tests/bench/study_scale.py."""
    spec = importlib.util.spec_from_file_location("study_scale", HERE.parent / "bench" / "study_scale.py")
    scale = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(scale)
    folder.mkdir(parents=True, exist_ok=True)
    return scale.make(folder, samples, "frames", method)


@dataclass
class Run:
    """A run of the command in a process group of its own. Rows that it begins are appended to `begun.log`."""

    process: subprocess.Popen
    log: Path

    @staticmethod
    def start(study: Path, workers: int = 1, library: Path | None = None, **faults: object) -> Run:
        """Start `sievelight run`, with faults by name: kill_at=7, space=10000, read_only=1, jump=1, count=path."""
        folder = study.parent
        log = folder / "begun.log"
        log.unlink(missing_ok=True)
        env = dict(os.environ) | {"BEGUN_LOG": str(log), "MPLBACKEND": "agg"}
        env.pop("SIEVELIGHT_THREADS", None)
        if faults:
            env |= {"LD_PRELOAD": str(library), "FAULTS_UNDER": os.path.realpath(folder / "results")}
            env |= {f"FAULTS_{name.upper()}": str(value) for name, value in faults.items()}
        call = [sys.executable, str(HERE / "logged_run.py"), "run", os.path.realpath(study), "--workers", str(workers)]
        process = subprocess.Popen(
            call, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env, start_new_session=True
        )
        return Run(process, log)

    def finish(self, limit_s: float = 300.0) -> tuple[int, str]:
        """Wait for its end: exit code and everything it said."""
        said = self.process.communicate(timeout=limit_s)[0]
        return self.process.returncode, said

    def kill(self, *, group: bool) -> None:
        """SIGKILL to the study's process alone or to its workers too, and wait until all of them are gone."""
        leader = self.process.pid
        (os.killpg if group else os.kill)(leader, signal.SIGKILL)
        self.process.communicate()
        until = time.monotonic() + 30
        while True:  # workers of a killed process end by themselves
            try:
                os.killpg(leader, 0)
            except (ProcessLookupError, PermissionError):
                return
            if time.monotonic() > until:
                raise AssertionError("a worker outlived its study's process")
            time.sleep(0.02)

    def begun(self) -> list[str]:
        """Rows that were begun, in order."""
        return self.log.read_text().split() if self.log.exists() else []


def results(study: Path) -> dict[str, bytes]:
    """Every file under a final name, by its path in the output; the moment of the run is left out."""
    out, found = study.parent / "results", {}
    for path in sorted(out.rglob("*")):
        name = str(path.relative_to(out))
        if path.is_dir() or path.name == ".in-use" or path.name.endswith(".part"):
            continue
        data = path.read_bytes()
        if name == "record.json":
            record = json.loads(data)
            record.pop("made")
            data = json.dumps(record, sort_keys=True).encode()
        if name == "report.html":
            data = re.sub(rb"\d{4}-\d\d-\d\d \d\d:\d\d UTC", b"", data)
        found[name] = data
    return found


def leftovers(study: Path) -> list[str]:
    """Hidden files in the output folder: none after a run that ended by itself."""
    return sorted(str(p) for p in (study.parent / "results").rglob(".*"))


def standing(study: Path) -> set[str]:
    """Rows whose checkpoint is on the disk."""
    return {p.stem for p in (study.parent / "results" / "checkpoints").glob("*.npz")}


def check_whole(study: Path, want: dict[str, bytes]) -> dict[str, bytes]:
    """Every file under a final name is, to the byte, what an undisturbed run writes."""
    found = results(study)
    wrong = [name for name, data in found.items() if data != want.get(name)]
    assert not wrong, f"not as an undisturbed run writes them: {wrong}"
    for row in standing(study):
        products = {f"curves/{row}.h5", f"distributions/{row}.h5"}
        assert products <= set(found), f"the checkpoint of {row} stands without {products - set(found)}"
    return found


def check_resumed(
    study: Path, want: dict[str, bytes], *, stood: set[str], before: list[str], run: Run, workers: int
) -> int:
    """A resumed run that ended: the same files as undisturbed, and only rows in flight were done twice (returned)."""
    found = results(study)
    assert set(found) == set(want) and found == want, [n for n in want if found.get(n) != want[n]]
    assert not leftovers(study), leftovers(study)
    again = run.begun()
    assert not stood & set(again), f"finished rows were begun again: {stood & set(again)}"
    assert len(again) == len(set(again))
    repeated = (set(before) - stood) & set(again)
    assert len(repeated) <= workers, f"more rows than were in flight were begun twice: {repeated}"
    return len(repeated)
