# SPDX-License-Identifier: GPL-3.0-or-later
"""A record says what went in, and whether the same numbers come out again."""

import json
import shutil
import subprocess
import sys

import numpy as np
import pytest

from sievelight import curve as curves
from sievelight.errors import DataError
from sievelight.study import check_record, run_study
from sievelight.study.record import numbers_of


def curve_study(folder, output="results"):
    q = np.geomspace(0.1, 2.5, 80)
    for i in range(2):
        x = q * (5 + i)
        truth = 50 * (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 + 0.05  # a sphere: Rayleigh 1911
        u = 0.03 * truth + 1e-3
        noisy = truth + u * np.random.default_rng(i).standard_normal(q.size)
        made = curves.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm")
        curves.write_csv(folder / f"c{i}.csv", made)
    (folder / "measurements.csv").write_text("name,role,file\nc0,curve,c0.csv\nc1,curve,c1.csv\n")
    (folder / "study.toml").write_text(
        f'[study]\noutput = "{output}"\n[distribution]\nmethod = "evidence"\nwhat_if = "none"\n'
        "power_law = false\ncontrast_per_cm2 = 1e11\n"
    )
    return folder / "study.toml"


def test_frames_give_every_number_again_bit_for_bit(study):
    folder, _ = study
    result = run_study(folder / "study.toml")
    before = {p.name: p.read_bytes() for p in (folder / "results").glob("*.*")}
    check = check_record(folder / "results" / "record.json")
    assert check.reproduced and check.changed == {} and check.same_numbers == sorted(s.name for s in result.samples)
    assert {p.name: p.read_bytes() for p in (folder / "results").glob("*.*")} == before
    assert not list(folder.glob(".again-*"))
    # The digests are of all that matters: one last digit of one point is seen.
    digests = numbers_of(result.samples[0])
    assert {"curve", "size distribution", "x50_nm", "volume_fraction"} <= set(digests)
    result.samples[0].curve.intensity = np.nextafter(result.samples[0].curve.intensity, np.inf)
    assert numbers_of(result.samples[0])["curve"] != digests["curve"]


def test_a_changed_input_is_named_and_only_its_numbers_are_others(tmp_path):
    path = curve_study(tmp_path, output="out/deep")
    run_study(path)
    text = (tmp_path / "c1.csv").read_text().splitlines()
    (tmp_path / "c1.csv").write_text("\n".join(text[:-1]) + "\n")  # its last point is lost
    check = check_record(tmp_path / "out" / "deep" / "record.json")
    assert list(check.changed) == ["c1.csv"] and "SHA-256" in check.changed["c1.csv"]
    assert check.same_numbers == ["c0"] and "x50_nm" in check.other_numbers["c1"] and not check.reproduced
    (tmp_path / "c1.csv").unlink()
    check = check_record(tmp_path / "out" / "deep" / "record.json")
    assert "cannot be read" in check.changed["c1.csv"] and check.same_numbers == ["c0"]


def test_a_record_elsewhere_needs_its_study_and_a_wrong_file_is_told(tmp_path):
    path = curve_study(tmp_path)
    run_study(path)
    away = tmp_path / "away"
    away.mkdir()
    shutil.copy(tmp_path / "results" / "record.json", away / "kept.json")
    assert check_record(away / "kept.json", study=path).reproduced
    (tmp_path / "results" / "record.json").rename(tmp_path / "record.json")
    with pytest.raises(DataError, match="Give its path"):
        check_record(tmp_path / "record.json")
    with pytest.raises(DataError, match="not JSON"):
        check_record(tmp_path / "c0.csv")
    (away / "old.json").write_text(json.dumps({"study": "study.toml"}))
    with pytest.raises(DataError, match="no inputs, numbers"):
        check_record(away / "old.json")
    with pytest.raises(DataError, match="There is no record"):
        check_record(away / "none.json")


def test_the_command_ends_in_zero_or_names_what_changed(tmp_path):
    path = curve_study(tmp_path)
    run_study(path)
    call = [sys.executable, "-m", "sievelight", "check", str(tmp_path / "results" / "record.json")]
    done = subprocess.run(call, capture_output=True, text=True)
    assert done.returncode == 0 and "2 of 2 samples have the same numbers bit for bit." in done.stdout, done.stderr
    path.write_text(path.read_text() + "seed = 7\n")
    done = subprocess.run([*call, "--json"], capture_output=True, text=True)
    assert done.returncode == 1 and list(json.loads(done.stdout)["changed"]) == ["study.toml"]
