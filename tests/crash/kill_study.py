# SPDX-License-Identifier: GPL-3.0-or-later
"""Kill a study at many moments, let it go on, and prove that nothing is lost, doubled or half written.

    python tests/crash/kill_study.py [--moments 200] [--calls 100] [--spaces 40] [--samples 10] [--seed 1]

--moments: kill -9 after random times, or random times after a random number of rows, the study's process alone or with its workers, with one and with two workers; a
resumed run may be killed again. --calls: die at this many of the calls that change something on the disk (all of them
where there are no more), a write half done. --spaces: the disk is full after this many amounts of bytes, spread over what
a whole run writes. After each: every file under a final name is, to the byte, that of an undisturbed run; the resumed run
ends with the same files; rows whose checkpoint stood are not begun again, and no more rows are begun twice than there are
workers. Needs a C compiler for the last two. About 3 s a kill on two idle cores.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from crash_tools import Run, build_faults, check_resumed, check_whole, leftovers, make_study, results, standing


def undisturbed(study: Path, **options: object) -> tuple[dict[str, bytes], float]:
    """What a run writes that nobody disturbs, and how long it takes."""
    shutil.rmtree(study.parent / "results", ignore_errors=True)
    begun = time.monotonic()
    code, said = Run.start(study, **options).finish()
    assert code == 0, said
    assert not leftovers(study)
    return results(study), time.monotonic() - begun


def kill_at_moments(study: Path, moments: int, seed: int, say=print) -> Counter:
    """Kill at random moments; counts what the kills met."""
    random_ = random.Random(seed)
    want, met = {}, Counter()
    takes = {}
    for workers in (1, 2):
        want, takes[workers] = undisturbed(study, workers=workers)
    rows = len([n for n in want if n.startswith("checkpoints/")])
    kills = 0
    while kills < moments:
        workers = random_.choice((1, 2))
        shutil.rmtree(study.parent / "results", ignore_errors=True)
        stood, before, chain = set(), [], random_.choice((1, 1, 2, 3))
        while True:
            run = Run.start(study, workers=workers)
            if chain and kills < moments and not _ended_before(run, study, random_, rows, takes[workers]):
                run.kill(group=random_.random() < 0.5)
                chain, kills = chain - 1, kills + 1
                found = check_whole(study, want)
                begun = run.begun()
                assert not stood & set(begun), "a finished row was begun again"
                stood, before = standing(study), begun
                met[_phase(found, begun, rows)] += 1
                if kills % 20 == 0:
                    say(f"{kills} kills, {dict(met)}", flush=True)
                continue
            code, said = run.finish()
            assert code == 0, said
            met["rows begun twice"] += check_resumed(study, want, stood=stood, before=before, run=run, workers=workers)
            break
    met["kills"] = kills
    return met


def _ended_before(run: Run, study: Path, random_: random.Random, rows: int, takes_s: float) -> bool:
    """Wait for a random moment: of the time a run takes, or, every other time, after a random number of rows."""
    delay_s = random_.uniform(0.0, takes_s)
    if random_.random() < 0.5:
        wanted, delay_s = random_.randint(0, rows), random_.uniform(0.0, 0.3)
        while len(standing(study)) < wanted and run.process.poll() is None:
            time.sleep(0.005)
    try:
        run.process.wait(timeout=delay_s)
    except subprocess.TimeoutExpired:
        return False
    return True


def _phase(found: dict[str, bytes], begun: list[str], rows: int) -> str:
    if "record.json" in found:
        return "while the report was written"
    if "summary.csv" in found:
        return "between two tables"
    if len([n for n in found if n.startswith("checkpoints/")]) == rows:
        return "after the last row"
    return "between rows" if begun else "before the first row"


def die_at_calls(study: Path, library: Path, most: int, seed: int) -> Counter:
    """Die at single calls; counts them. The first is the first that changes anything."""
    want, _ = undisturbed(study)
    count = study.parent / "count"
    count.unlink(missing_ok=True)
    undisturbed(study, library=library, count=count)
    total = int(count.read_text().split()[-2])
    chosen = sorted(random.Random(seed).sample(range(1, total + 1), min(most, total)))
    met = Counter({"calls of a whole run": total})
    for n in chosen:
        shutil.rmtree(study.parent / "results", ignore_errors=True)
        dies = Run.start(study, library=library, kill_at=n)
        code, said = dies.finish()
        assert code == -9, (n, code, said)
        check_whole(study, want)
        stood, before = standing(study), dies.begun()
        run = Run.start(study)
        code, said = run.finish()
        assert code == 0, said
        met["rows begun twice"] += check_resumed(study, want, stood=stood, before=before, run=run, workers=1)
        met["deaths"] += 1
    return met


def fill_the_disk(study: Path, library: Path, amounts: int) -> Counter:
    """Let the disk fill after amounts of bytes spread over a whole run; counts how the runs ended."""
    want, _ = undisturbed(study)
    count = study.parent / "count"
    count.unlink(missing_ok=True)
    undisturbed(study, library=library, count=count)
    total = int(count.read_text().split()[-1])
    met = Counter({"bytes of a whole run": total})
    for k in range(amounts):
        shutil.rmtree(study.parent / "results", ignore_errors=True)
        run = Run.start(study, library=library, space=total * k // amounts)
        ended, said = run.finish()
        assert ended in (1, 2) and "Traceback" not in said and "disk or its quota is full" in said, (k, ended, said)
        check_whole(study, want)
        assert not leftovers(study), leftovers(study)
        stood = standing(study)
        run = Run.start(study)
        code, said = run.finish()
        assert code == 0, said
        check_resumed(study, want, stood=stood, before=[], run=run, workers=1)
        met[f"exit code {ended}"] += 1
        met["full disks"] += 1
    return met


def main() -> None:
    """Do all three and print what was met."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--moments", type=int, default=200)
    parser.add_argument("--calls", type=int, default=100)
    parser.add_argument("--spaces", type=int, default=40)
    parser.add_argument("--samples", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        study = make_study(Path(folder) / "study", chosen.samples)
        if chosen.moments:
            print("moments:", dict(kill_at_moments(study, chosen.moments, chosen.seed)), flush=True)
        library = build_faults(Path(folder))
        if library is None:
            print("no C compiler: no deaths at calls, no full disks")
            return
        study = make_study(Path(folder) / "quick", 3)
        if chosen.calls:
            print("calls:", dict(die_at_calls(study, library, chosen.calls, chosen.seed)), flush=True)
        if chosen.spaces:
            print("spaces:", dict(fill_the_disk(study, library, chosen.spaces)), flush=True)


if __name__ == "__main__":
    main()
