# SPDX-License-Identifier: GPL-3.0-or-later
"""`sievelight plan study.toml` on the demo: from its own pilot, from an expected sample, and its refusals."""

import json

import pytest
from typer.testing import CliRunner

from sievelight import InputError, plan_study
from sievelight.cli import app


def ask(folder, text):
    path = folder / "study.toml"
    path.write_text(path.read_text() + "\n[plan]\n" + text)
    return path


EXPECTED = """
target_percent = 1.0
sizes = { median_nm = 14.0, sigma = 0.22 }
volume_fraction = 0.28
photons_per_s = 1.0e6
thickness_mm = 0.1
composition = "SiO2"
density_g_per_cm3 = 1.58
repeats = 1
"""


def test_a_pilot_of_the_demo_says_how_long_and_in_which_configuration(study):
    folder, _ = study
    path = ask(
        folder,
        """
target_percent = 0.5
samples_sharing_background = 12
pilot = "k2-a"
repeats = 1
[[plan.configuration]]
name = "far"
q_min_per_nm = 0.03
q_max_per_nm = 0.7
relative_flux = 0.3
""",
    )
    done = plan_study(path)
    # The pilot is reduced as the study reduces it, transmission included: the model describes its curve.
    assert not any("does not describe" in line or "multiplied by" in line for line in done.lines()), done.lines()
    here, far = done.options
    assert "pilot 'k2-a'" in done.basis and done.best is here and here.name == "as it is"
    # The truth is a median of 14 nm; the wafers of a kiln scatter by 0.8 %.
    assert here.exposure.value == pytest.approx(14.0, rel=0.04)
    assert here.exposure.stated_percent == pytest.approx(0.5)
    assert here.judgement.reaches and not far.judgement.reaches
    assert any("q must reach up" in warning for warning in far.judgement.warnings)
    assert here.exposure.background_s < 12 * here.exposure.exposure_s
    assert repr(done).startswith("<StudyPlan")
    json.dumps(done.to_dict())
    # Its picture: a law, points and a cross for what reaches the sizes; the target is what the cross stands at.
    ax = done.plot()
    assert [text.get_text() for text in ax.get_legend().get_texts()] == ["as it is", "far", "target 0.5 %"]
    crosses = [line for line in ax.lines if line.get_marker() == "x"]
    assert crosses[0].get_ydata()[0] == pytest.approx(0.5)
    assert here.exposure.law.u(here.exposure.exposure_s) == pytest.approx(0.5, rel=0.02)
    ax.figure.savefig(folder / "plan.png", dpi=130)


def test_looks_are_planned_with_the_exposure(study):
    folder, _ = study
    path = ask(
        folder, EXPECTED.replace("target_percent = 1.0", "decide_margin_percent = 5.0\nbetween_sd_percent = 1.0")
    )
    text = path.read_text()
    path.write_text(text.replace("[compare]", "[compare]\nlooks = [3, 6]"))
    done = plan_study(path)
    assert "batches of 6, looked at after 3 and 6 samples" in done.asked
    assert any("at these looks and at no others" in note for note in done.notes)
    path.write_text(path.read_text().replace("between_sd_percent", "samples_per_batch = 8\nbetween_sd_percent"))
    with pytest.raises(InputError, match="last of"):
        plan_study(path)


@pytest.mark.slow
def test_the_flux_that_a_pilot_saw_is_that_of_the_same_sample_expected(study):
    """The demo as a second configuration of itself: time to the same target within a factor 1.5 (a log-normal fitted to
    the pilot stands for it, and one simulated measurement an exposure leaves 20 % in u, 40 % in time)."""
    folder, _ = study
    text = 'target_percent = 0.5\npilot = "k1-a"\nrepeats = 3\n[[plan.configuration]]\nname = "the same"\n'
    path = ask(folder, text)
    times = {option.name: option.exposure.exposure_s for option in plan_study(path).options}
    assert 1 / 1.5 < times["the same"] / times["as it is"] < 1.5


def test_an_exposure_of_a_stack_may_be_the_pilot(study):
    folder, edit = study
    edit("k1-a", frames="each")
    done = plan_study(ask(folder, 'target_percent = 0.5\npilot = "k1-a-001"\nrepeats = 1\n'))
    assert "pilot 'k1-a-001'" in done.basis and done.best.exposure.value == pytest.approx(14.0, rel=0.04)


def test_an_expected_sample_needs_no_frames(study):
    folder, _ = study
    path = ask(folder, EXPECTED)
    (folder / "measurements.csv").unlink()
    shown = CliRunner().invoke(app, ["plan", str(path), "--json"])
    assert shown.exit_code == 0, shown.output
    done = json.loads(shown.stdout)
    assert done["best"] == "as it is" and done["options"][0]["exposure"]["exposure_s"] > 0
    said = CliRunner().invoke(app, ["plan", str(path)]).stdout
    assert "Expose each sample for" in said and "supports sizes from" in said


def test_scatter_that_no_exposure_mends_is_said_at_once(study):
    folder, _ = study
    path = ask(folder, "decide_margin_percent = 5.0\nsamples_per_batch = 3\nbetween_sd_percent = 6.0\nrepeats = 1\n")
    done = plan_study(path)
    assert not done.options and "No exposure decides it" in done.refusal and "samples a batch would do" in done.refusal


def test_an_expected_sample_in_a_line_shaped_beam_is_refused(study):
    folder, _ = study
    path = ask(folder, EXPECTED + "[instrument.slit]\nhalf_top_mm = 5.0\nhalf_base_mm = 8.0\n")
    path.write_text(path.read_text().replace('collimation = "point"', 'collimation = "line"'))
    with pytest.raises(InputError, match="Plan from a pilot"):
        plan_study(path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("repeats = 1", "has no target"),
        ("target_percent = 1.0\ndecide_margin_percent = 5.0", "two targets"),
        ("decide_margin_percent = 5.0", "without samples_per_batch"),
        ('target_percent = 1.0\npilot = "k1-z"', "pilot is 'k1-z'"),
        ("target_percent = 1.0\nsizes = { median_nm = 14.0, sigma = 0.2 }", "sizes but no volume_fraction"),
        (EXPECTED + 'pilot = "k1-a"', "a pilot and expected sizes"),
        ("target_percent = -1.0", "target_percent"),
        ("target_precent = 1.0", "Did you mean 'target_percent'"),
        ('target_percent = 1.0\n[[plan.configuration]]\nname = "as it is"', "two configurations"),
    ],
)
def test_a_plan_that_cannot_be_understood_says_how_to_mend(study, text, words):
    folder, _ = study
    with pytest.raises(InputError, match=words.replace("?", r"\?")):
        plan_study(ask(folder, text))
