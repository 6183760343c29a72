# SPDX-License-Identifier: GPL-3.0-or-later
"""The Python face of the two-phase analyses: calls, pickles, refusals, and the examples of the docstrings."""

import doctest
import pickle

import numpy as np
import pytest

import sievelight
from sievelight import InputError, analysis, two_phase
from sievelight.curve import Cause, Curve
from sievelight.two_phase import (
    compare_tail_laws,
    correlation_function,
    fit_contrast_series,
    fit_random_two_phase,
    mean_intensity,
    random_two_phase_surface,
)


def two_phase_curve(relative_u=0.002, unit="1/cm"):
    """exp(-r / 5 nm), with a scale of 5 % (Debye, Anderson, Brumberger 1957)."""
    q = np.geomspace(0.02, 10, 300)
    intensity = 2e4 / (1 + (5 * q) ** 2) ** 2 + 0.01
    return Curve(
        q_per_nm=q,
        intensity=intensity,
        private_u=relative_u * intensity,
        causes={"absolute scale": Cause("coherent", 0.05 * intensity)},
        unit=unit,
    )


@pytest.mark.parametrize("module", [analysis, two_phase])
def test_the_examples_of_the_docstrings_run(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_a_correlation_function_carries_bands_influence_and_causes():
    curve = two_phase_curve()
    porod = sievelight.fit_porod(curve, q_range_per_nm=(5, 10))
    guinier = sievelight.fit_guinier(curve, q_rg_max=0.8)
    found = correlation_function(curve, guinier=guinier, porod=porod)
    assert found.r_nm[0] == 0 and len(found.r_nm) == 201
    assert found.correlation.value[0] == pytest.approx(1)
    assert found.correlation.band95.shape == found.chords_per_nm.band68.shape == (201, 2)
    assert found.correlation.influence.shape == (201, 300)
    assert set(found.correlation.causes) == {"Porod's law", "shape of the tail", "start of the curve"}
    # The scale cancels; the bands are u and 1.96 u wide.
    assert np.abs(found.correlation.influence @ curve.causes["absolute scale"].u).max() < 1e-9
    assert found.correlation.band95[50, 1] - found.correlation.value[50] == pytest.approx(
        1.959964 * found.correlation.u[50], rel=1e-6
    )
    assert found.porod_length_nm.value == pytest.approx(5, rel=0.02)
    assert found.resolution_nm == pytest.approx(np.pi / porod.q_range_per_nm.low)
    assert "l_p 5" in repr(found) or "l_p 4.9" in repr(found)
    again = pickle.loads(pickle.dumps(found))
    assert np.array_equal(again.chords_per_nm.value, found.chords_per_nm.value)
    assert again.correlation.causes.keys() == found.correlation.causes.keys()
    few = correlation_function(curve, guinier=None, porod=porod, r_nm=[0, 5, 10])
    assert few.correlation_volume_nm3 is None and few.r_nm.tolist() == [0, 5, 10]
    with pytest.raises(InputError, match="rise"):
        correlation_function(curve, guinier=guinier, porod=porod, r_nm=[3, 2])


def test_smooth_walls_have_no_chords():
    curve = two_phase_curve()
    porod = sievelight.fit_porod(curve, q_range_per_nm=(1, 10), walls="smooth")
    assert porod.walls == "smooth" and porod.background_law == "flat"
    with pytest.raises(InputError, match="smooth walls"):
        correlation_function(curve, guinier=None, porod=porod)
    with pytest.raises(InputError, match="'soft' is not a kind of walls"):
        sievelight.fit_porod(curve, walls="soft")


def test_a_richer_tail_says_whether_it_was_needed():
    curve = two_phase_curve()
    plain = sievelight.fit_porod(curve, q_range_per_nm=(3, 10))
    assert plain.richer_probability == 1 and not plain.richer_needed and plain.growth.value == 0
    rich = sievelight.fit_porod(curve, q_range_per_nm=(5, 10), background="square")
    assert rich.growth.value == pytest.approx(0, abs=3 * rich.growth.u)
    assert not rich.richer_needed
    assert any("not needed" in warning for warning in rich.warnings)
    assert rich.background_at(np.array([4.0]))[0] == pytest.approx(rich.background.value + 16 * rich.growth.value)
    again = pickle.loads(pickle.dumps(rich))
    assert again.background_law == "square" and again.growth.u == rich.growth.u


def test_laws_of_the_tail_stand_side_by_side():
    curve = two_phase_curve(0.01)
    found = compare_tail_laws(curve, q_range_per_nm=(3, 10))
    best = found.candidates[0]
    assert (best.fit.walls, best.fit.background_law, best.criterion) == ("sharp", "flat", 0)
    assert sum(candidate.share for candidate in found.candidates) == pytest.approx(1)
    assert found.constant.value == pytest.approx(2e4 / 625, abs=2 * found.constant.u)
    assert "sharp walls" in repr(found)
    again = pickle.loads(pickle.dumps(found))
    assert again.findings == found.findings and again.candidates[0].share == best.share


def test_the_random_two_phase_model_gives_surface_and_chords():
    curve = two_phase_curve()
    fit = fit_random_two_phase(curve)
    assert fit.correlation_nm.value == pytest.approx(5, rel=1e-6) and fit.model_holds
    surface = random_two_phase_surface(curve, fit, porosity=(0.3, 0.01), skeletal_density_g_per_cm3=2.2)
    assert surface.from_porosity_m2_per_cm3.value == pytest.approx(168, rel=1e-5)
    assert surface.m2_per_g.value == pytest.approx(109.0909, rel=1e-5)
    assert pickle.loads(pickle.dumps(fit)).correlation_nm.u == fit.correlation_nm.u
    assert fit.intensity(curve.q_per_nm) == pytest.approx(curve.intensity, rel=1e-5)
    assert "holds" in repr(fit)


def test_a_contrast_series_takes_any_result_of_its_curves():
    fluids = [0.0, 9.4e10, (14e10, 1e8), 22e10]
    curves = []
    for fluid in fluids:
        rho = fluid[0] if isinstance(fluid, tuple) else fluid
        base = two_phase_curve()
        factor = ((18.64e10 - rho) / 18.64e10) ** 2
        curves.append(Curve(q_per_nm=base.q_per_nm, intensity=factor * base.intensity, private_u=base.private_u))
    results = [mean_intensity(curve, q_range_per_nm=(0.02, 0.2)) for curve in curves]
    series = fit_contrast_series(curves, results, fluid_per_cm2=fluids)
    assert series.match_per_cm2.value == pytest.approx(18.64e10, rel=1e-6)
    assert series.share.value == pytest.approx(0, abs=1e-6)
    assert "No remainder" in series.findings[0]
    assert series.parabola(np.array([0.0]))[0] == pytest.approx(results[0].value)
    assert pickle.loads(pickle.dumps(series)).findings == series.findings
    known = fit_contrast_series(curves[:2], results[:2], fluid_per_cm2=fluids[:2], solid_per_cm2=(18.64e10, 1e9))
    assert known.share.u > 0
    with pytest.raises(InputError, match="do not go together"):
        fit_contrast_series(curves, results, fluid_per_cm2=fluids[:2])
    with pytest.raises(InputError, match="2 different fluids"):
        fit_contrast_series(curves[:2], results[:2], fluid_per_cm2=fluids[:2])


def test_pictures_show_what_is_the_laws_and_where_the_match_point_is():
    plt = pytest.importorskip("matplotlib.pyplot")
    from sievelight.plot_two_phase import plot_contrast_series, plot_correlation

    curve = two_phase_curve()
    porod = sievelight.fit_porod(curve, q_range_per_nm=(5, 10))
    found = correlation_function(curve, guinier=sievelight.fit_guinier(curve, q_rg_max=0.8), porod=porod)
    ax = plot_correlation(found)
    texts = [text.get_text() for text in ax.get_legend().get_texts()]
    assert texts[0] == "95 % band" and "finer than the data show" in texts and "l_p$ = " in texts[-1]
    assert "chord length" in plot_correlation(found, chords=True).get_xlabel()

    fluids = [0.0, 9.4e10, 14e10, 22e10]
    q = np.array([0.1, 0.2, 0.3])
    levels = [((18.64e10 - f) / 1e10) ** 2 + 5 for f in fluids]
    curves = [Curve(q_per_nm=q, intensity=np.full(3, y), private_u=np.full(3, 0.5)) for y in levels]
    results = [mean_intensity(c, q_range_per_nm=(0.1, 0.3)) for c in curves]
    series = fit_contrast_series(curves, results, fluid_per_cm2=fluids)
    ax = plot_contrast_series(series, levels, [r.u for r in results], fluid_per_cm2=fluids)
    drawn = ax.get_lines()[0]
    assert drawn.get_ydata().min() == pytest.approx(5, abs=0.1)
    assert drawn.get_xdata()[drawn.get_ydata().argmin()] == pytest.approx(18.64, abs=0.1)
    plt.close("all")
