# SPDX-License-Identifier: GPL-3.0-or-later
"""Every question of the referee: one case in which it is asked, one in which it stays silent."""

from types import SimpleNamespace

import numpy as np
import pytest

import sievelight as sl
from sievelight._core import Factor
from sievelight.study.findings import Findings
from sievelight.study.referee import question_counts, question_curve, question_rows
from sievelight.study.scales import relative_u_of_ratio
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def row(name="a", role="sample", u=None, text=None, **values):
    return Measurement(name=name, role=role, row=2, values=values, u=u or {}, text=text or {})


def asked(*rows, settings=None):
    findings = Findings()
    question_rows(settings or Settings(), list(rows), findings)
    return " ".join(f"{f.severity}: {f.finding} {f.evidence} {f.mend}" for f in findings.items)


@pytest.mark.parametrize(
    ("fires", "silent"),
    [
        (row(text={"pore_fluid": "water"}, temperature_C=120.0), row(text={"pore_fluid": "water"}, temperature_C=60.0)),
        (
            row(temperature_C=99.0, relative_humidity_percent=80.0),
            row(temperature_C=99.0, relative_humidity_percent=0.0),
        ),
    ],
)
def test_water_that_boils(fires, silent):
    assert "boiling point" in asked(fires) and "local rules" in asked(fires)
    assert asked(silent) == ""


def test_a_hot_cell():
    assert "hot stages burn" in asked(row(temperature_C=350.0)) and asked(row(temperature_C=150.0)) == ""


def test_a_transmission_that_the_composition_forbids():
    settings = Settings()
    settings.instrument.wavelength_nm = 0.154187
    mu = sl.material.mass_attenuation_cm2_per_g("SiO2", wavelength_nm=0.154187)
    t = float(np.exp(-mu * 1.1 * 0.05))
    known = {"thickness_mm": 0.5, "apparent_density_g_per_cm3": 1.1}
    good = row(transmission=t, text={"composition": "SiO2"}, **known)
    bad = row(transmission=t**0.5, text={"composition": "SiO2"}, **known)
    unsure = row(transmission=t**0.5, u={"thickness_mm": 0.2}, text={"composition": "SiO2"}, **known)
    assert asked(good, settings=settings) == "" and asked(unsure, settings=settings) == ""
    assert "does not fit the thickness" in asked(bad, settings=settings)


def test_a_beam_that_drifted():
    def drifting(step):
        return [row(f"s{k}", incident_intensity=1e6 * (1 + step * k)) for k in range(4)]

    timed = Settings()
    timed.reduce.normalize_by = "exposure"
    assert "error of their scale" in asked(*drifting(0.02), settings=timed)
    assert asked(*drifting(0.002), settings=timed) == ""
    monitored = Settings()
    monitored.reduce.normalize_by = "monitor"
    assert asked(*drifting(0.02), settings=monitored) == ""
    assert asked(*drifting(0.15), settings=monitored).startswith("note")


def averaged(counts, pixels=100):
    counts = np.asarray(counts, float)
    return SimpleNamespace(counts=counts, pixels=np.full(counts.size, pixels))


def test_few_counts_and_a_mask_that_changed():
    def said(mine, theirs=None):
        findings = Findings()
        question_counts(row(), mine, theirs, findings)
        return " ".join(f.finding for f in findings.items)

    assert "Few counts" in said(averaged([3] * 30 + [50] * 70)) and said(averaged([3] * 10 + [50] * 90)) == ""
    many = [500] * 50
    assert "mask changed" in said(averaged(many, 100), averaged(many, 95))
    assert said(averaged(many, 1000), averaged(many, 999)) == ""


def curve_of(phi, unit="1/cm"):
    q = np.geomspace(0.1, 2, 150)
    x = q * 7.0
    form = (3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2
    # A gentle correlation hole stands in for interference: S(0) = 1 - phi, back to 1 beyond q R of 2.
    truth = 100 * (form + 2e-3) * (1 - phi * np.exp(-((x / 2) ** 2)))
    u = 0.02 * truth
    noisy = truth + u * np.random.default_rng(1).standard_normal(q.size)
    return sl.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit=unit)


def test_interference_left_out_and_a_contrast_without_scale():
    def said(curve, **distribution):
        settings, findings = Settings(), Findings()
        for key, value in distribution.items():
            setattr(settings.distribution, key, value)
        question_curve(settings, row(), SimpleNamespace(curve=curve), findings)
        return " ".join(f.finding for f in findings.items)

    assert "keep their distance" in said(curve_of(0.8))
    assert said(curve_of(0.0)) == ""
    assert said(curve_of(0.8), hard_sphere_fraction=0.2) == ""
    assert "no volume fraction" in said(curve_of(0.0, unit="relative"), contrast_per_cm2=1e11)
    assert said(curve_of(0.0), contrast_per_cm2=1e11) == ""


def test_what_two_ways_to_the_scale_share_cancels_between_them():
    a = Factor(2.0, {"absolute scale: table": 0.05, "absolute scale: counts": 0.02, "distance": 0.2})
    b = Factor(4.0, {"absolute scale: table": 0.1, "absolute scale: counts": 0.04, "distance": 0.4})
    # The distance moves both alike; counts of 1 % each; a table of 2.5 % is common only where it is the same one.
    assert relative_u_of_ratio(a, b, same_table=True) == pytest.approx(0.01 * np.sqrt(2))
    assert relative_u_of_ratio(a, b, same_table=False) == pytest.approx(np.hypot(0.01, 0.025) * np.sqrt(2))
