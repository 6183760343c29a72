# SPDX-License-Identifier: GPL-3.0-or-later
"""Planning: what was foretold against what simulated exposures then give, splits, targets, configurations, refusals."""

import dataclasses
import json
import math

import numpy as np
import pytest

from sievelight import InputError, NumericalError, plan
from sievelight._core import Cause, Curve
from sievelight.compare import size_experiment
from sievelight.distribution import invert, make_kernel

CONTRAST_PER_CM2 = 1.864e11  # silica against air
BEAM = plan.Beam(
    photons_per_s=5e6,
    wavelength_nm=0.154,
    thickness_mm=1.0,
    transmission=0.3,
    cell_transmission=0.95,
    azimuth_share=0.9,
)


def expected(family="log-normal", sizes=None, **change):
    options = {
        "volume_fraction": 0.01,
        "contrast_per_cm2": CONTRAST_PER_CM2,
        "beam": BEAM,
        "q_min_per_nm": 0.08,
        "q_max_per_nm": 3.0,
        "bins": 120,
        "background_per_cm": 0.1,
        "flat_level_per_cm": 0.02,
        "exposure_s": 50,
    } | change
    return plan.expected_measurement(family=family, sizes=sizes or {"median_nm": 8, "sigma": 0.2}, **options)


CASES = {
    "log-normal 8 nm, 0.2": (expected(), "x50", 0.5),
    "log-normal 20 nm, 0.1": (expected(sizes={"median_nm": 20, "sigma": 0.1}), "x50", 0.3),
    "bimodal 6 and 25 nm": (
        expected("two log-normals", {"median_1_nm": 6, "sigma_1": 0.15, "median_2_nm": 25, "sigma_2": 0.15, "share_1": 0.8}),
        "mean",
        1.0,
    ),
}  # fmt: skip


def achieved(outlook, done, repeats, seed=77):
    """Scatter and stated uncertainty, in percent, of measurements that are simulated afresh at the planned exposures."""
    kernel = make_kernel(outlook.curve(1, 1))
    rng = np.random.default_rng(seed)
    values, stated = [], []
    for k in range(repeats):
        curve = outlook.curve(done.exposure_s, done.background_s or 1, rng=rng)
        estimate = getattr(
            invert(curve, kernel=kernel, seed=1000 + k, look_for_order=False, **outlook.inversion),
            plan.exposure.QUANTITIES[done.quantity],
        )
        values.append(estimate.value)
        stated.append(estimate.u)
    mean = np.mean(values)
    return 100 * np.std(values, ddof=1) / mean, 100 * np.sqrt(np.mean(np.square(stated))) / mean


# The scatter of n repeats is known to 1/sqrt(2 n): 9 % for 60, 6 % for 150, which the second case needs: what is foretold
# of it is 15 % too large. What was foretold must hold within 20 %.
@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_what_was_foretold_is_achieved(name):
    outlook, quantity, target = CASES[name]
    done = plan.plan_exposure(outlook, quantity=quantity, target_percent=target, samples_sharing_background=4)
    assert done.stated_percent == pytest.approx(target, rel=1e-6)
    scatter, stated = achieved(outlook, done, 150 if name == "log-normal 20 nm, 0.1" else 60)
    assert done.achieved_percent == pytest.approx(scatter, rel=0.2)
    assert done.stated_percent == pytest.approx(stated, rel=0.2)


def test_a_quick_case_reaches_its_target():
    """Stated uncertainties vary by some 10 % from one noisy curve to the next, so six of them are known to 5 %."""
    outlook, _, _ = CASES["log-normal 8 nm, 0.2"]
    outlook = dataclasses.replace(outlook, exposure_s=12.0, background_s=5.0)  # begin where a pilot would
    done = plan.plan_exposure(outlook, target_percent=0.5, samples_sharing_background=4, repeats=2)
    assert done.points[0].exposure_s <= done.exposure_s <= done.points[-1].exposure_s
    assert done.background_s == pytest.approx(done.split * done.exposure_s)
    assert done.total_s == pytest.approx(4 * done.exposure_s + done.background_s)
    # Square-root counting would be 0.5; free-form sizes resolve more as counts grow, so x50 falls more slowly.
    assert 0.25 < done.law.b < 0.5
    _, stated = achieved(outlook, done, 6)
    assert stated == pytest.approx(0.5, rel=0.2)
    assert "standard uncertainty of 0.5 %" in done.lines()[0] and repr(done).startswith("<ExposurePlan")
    json.dumps(done.to_dict())


def test_a_first_guess_that_shows_nothing_is_made_longer():
    """0.1 ms of this sample are noise; the search goes on from there."""
    outlook = expected(exposure_s=1e-3)
    with pytest.raises(NumericalError):
        plan.simulate(outlook, exposure_s=1e-4, repeats=1)
    done = plan.plan_exposure(outlook, target_percent=2.0, repeats=1)
    assert 0.02 < done.exposure_s < 20


# A net of 24 ratios: least total time for the same error of x50 by Fisher information, which finds its
# own weights at every ratio.
def test_the_split_is_that_of_brute_force():
    outlook, samples = expected(background_per_cm=1.0), 10
    at = plan.foresee(outlook, exposure_s=100)
    want = at["x50_nm"].u

    def total(ratio):  # for a fixed ratio u² falls as 1/t, as there is no floor
        u = plan.foresee(outlook, exposure_s=100, background_s=100 * ratio)["x50_nm"].u
        return (samples + ratio) * 100 * (u / want) ** 2

    ratios = np.geomspace(0.5, 8, 24)  # steps of 13 %
    times = [total(r) for r in ratios]
    influence = at["x50_nm"].influence
    a = float(np.sum(influence**2 * outlook.rates.sample))
    b = float(np.sum(influence**2 * outlook.rates.background))
    split = plan.best_split(sample_rate=a, background_rate=b, samples=samples)
    # The weights shift a little with the ratio, and the minimum is flat: 25 % in the ratio, 1 % in the time.
    assert split == pytest.approx(ratios[int(np.argmin(times))], rel=0.25)
    assert total(split) == pytest.approx(min(times), rel=0.01)


def test_more_samples_share_a_longer_background():
    rates = {"sample_rate": 2.0, "background_rate": 0.5}
    assert plan.best_split(**rates, samples=16) == pytest.approx(4 * plan.best_split(**rates, samples=1))
    assert plan.best_split(**rates, samples=4) == pytest.approx(1.0)


def test_fisher_falls_as_the_square_root_of_time():
    outlook = expected()
    one, four = (plan.foresee(outlook, exposure_s=t)["x50_nm"].u for t in (50, 200))
    assert one / four == pytest.approx(2, rel=1e-6)
    with pytest.raises(InputError, match="names no distribution"):
        plan.foresee(pilot(), exposure_s=50)


def measured(scale_u=0.0, q_u=0.0, seed=3):
    """A short measurement in which the background's counts are a cause of their own."""
    outlook = expected(bins=100, background_per_cm=0.3, exposure_s=20)
    curve = outlook.curve(40, 40, rng=np.random.default_rng(seed))
    causes = {"counts: empty cell": Cause("pointwise", np.sqrt(outlook.rates.background / 40))}
    if scale_u:
        causes["absolute scale"] = Cause("coherent", scale_u * outlook.expected.intensity)
    if q_u:
        slope = np.gradient(outlook.expected.intensity, outlook.expected.q_per_nm)
        causes["distance"] = Cause("coherent", q_u * outlook.expected.q_per_nm * slope)
    made = Curve(
        q_per_nm=curve.q_per_nm,
        intensity=curve.intensity,
        private_u=np.sqrt(outlook.rates.sample / 40),
        causes=causes,
        q_low_per_nm=curve.q_low_per_nm,
        q_high_per_nm=curve.q_high_per_nm,
        unit="1/cm",
    )
    return outlook, made


def pilot(**causes):
    _, curve = measured(**causes)
    return plan.pilot_measurement(
        curve,
        exposure_s=40,
        background_s=40,
        background_cause="counts: empty cell",
        contrast_per_cm2=CONTRAST_PER_CM2,
    )


def test_a_pilot_foretells_what_the_truth_would():
    """The pilot's own fit stands for the truth: times from both agree within 35 % (15 % in the error, squared over b)."""
    truth = plan.plan_exposure(measured()[0], target_percent=0.5, repeats=2)
    guess = plan.plan_exposure(pilot(), target_percent=0.5, repeats=2)
    assert guess.exposure_s == pytest.approx(truth.exposure_s, rel=0.35)
    assert guess.split == pytest.approx(truth.split, rel=0.2)


def test_no_exposure_removes_what_calibration_brings():
    """A distance known to 0.8 % moves every size by 0.8 %."""
    outlook = pilot(q_u=0.008)
    done = plan.plan_exposure(outlook, target_percent=0.5, repeats=1)
    assert done.exposure_s is None and done.background_s is None and done.total_s is None
    assert done.shared_percent == pytest.approx(0.8, rel=0.1)
    assert any("calibrate better" in warning for warning in done.warnings)
    apart = plan.plan_exposure(outlook, target_percent=0.5, repeats=1, count_shared_errors=False)
    assert apart.exposure_s is not None
    late = plan.plan_exposure(outlook, target_percent=1.05 * done.shared_percent, repeats=1)
    assert any("longer counting pays little" in warning for warning in late.warnings)
    assert plan.BEAM_DAMAGE in late.warnings


def test_a_verdict_asks_for_no_more_than_the_sizing_says():
    own = plan.own_u_to_decide(samples_per_batch=4, between_sd_percent=1.0, margin_percent=5.0)
    keeps = {"between_sd_percent": 1.0, "margin_percent": 5.0, "most_samples": 4}
    assert size_experiment(own_u_percent=0.98 * own, **keeps).samples is not None
    assert size_experiment(own_u_percent=1.05 * own, **keeps).samples is None
    assert plan.own_u_to_decide(samples_per_batch=4, between_sd_percent=4.0) is None
    assert plan.own_u_to_decide(samples_per_batch=8, between_sd_percent=1.0) > own


def test_a_configuration_that_fits_is_left_alone():
    good = plan.judge_configuration(
        expected(),
        thickness_mm=1.0,
        attenuation_per_cm=12,
        wavelength_nm=0.154,
        dead_time_s=1e-7,
        distance_mm=600,
        pixel_size_mm=0.1,
    )
    assert good.reaches and not good.warnings
    assert good.supported_nm == pytest.approx((math.pi, math.pi / 0.08))
    assert good.best_thickness_mm == pytest.approx(1 / 1.2)
    json.dumps(good.to_dict())


@pytest.mark.parametrize(
    ("change", "facts", "words"),
    [
        ({"sizes": {"median_nm": 60, "sigma": 0.2}}, {}, ["q must reach down", "interlocked", "radiation-safety"]),
        ({"sizes": {"median_nm": 3, "sigma": 0.2}}, {}, ["q must reach up", "shorter wavelength"]),
        ({"bins": 20, "sizes": {"median_nm": 20, "sigma": 0.06}}, {}, ["bins are too wide", "Ask for"]),
        ({"q_resolution_per_nm": 0.1, "sizes": {"median_nm": 25, "sigma": 0.08}}, {}, ["blurs the fringes"]),
        ({}, {"thickness_mm": 4.0, "attenuation_per_cm": 12}, ["too thick", "1/µ"]),
        ({}, {"thickness_mm": 0.1, "attenuation_per_cm": 12}, ["too thin", "1/µ"]),
        (
            {"volume_fraction": 0.3, "sizes": {"median_nm": 25, "sigma": 0.2}},
            {"thickness_mm": 1.0, "wavelength_nm": 0.154},
            ["scattered", "mm or thinner"],
        ),
        ({}, {"dead_time_s": 1e-6, "brightest_pixel_per_s": 3e5}, ["blind", "interlocked", "attenuator checked first"]),
    ],
)
def test_a_configuration_that_cannot_answer_says_what_to_do(change, facts, words):
    warnings = plan.judge_configuration(expected(**change), **facts).warnings
    assert any(all(word in warning for word in words) for warning in warnings), warnings


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: plan.plan_exposure(expected(), target_percent=0), "target is 0"),
        (lambda: plan.plan_exposure(expected(), target_percent=1, quantity="x5O"), "Did you mean 'x50'"),
        (lambda: plan.plan_exposure(expected(), target_percent=1, samples_sharing_background=0), "0 samples share"),
        (lambda: expected(sizes={"median_nm": 8}), "needs median_nm, sigma"),
        (lambda: expected("log-norma"), "Did you mean 'log-normal'"),
        (lambda: expected(volume_fraction=1.5), "volume fraction is 1.5"),
        (lambda: expected(q_max_per_nm=0.01), "smaller number first"),
        (lambda: expected(background_per_cm=-1), "background is negative"),
        (lambda: plan.pilot_measurement(measured()[1], exposure_s=0), "pilot's exposures are 0"),
        (
            lambda: plan.pilot_measurement(measured()[1], exposure_s=1, background_cause="counts: empty"),
            "no cause 'counts: empty'",
        ),
        (lambda: plan.own_u_to_decide(samples_per_batch=1, between_sd_percent=1), "two samples at least"),
    ],
)
def test_bad_calls_say_what_and_how_to_mend(call, words):
    with pytest.raises(InputError, match=words.replace("?", r"\?")):
        call()
