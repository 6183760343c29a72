# SPDX-License-Identifier: GPL-3.0-or-later
"""One sample, from its frames to its summary: reduce, analyse, invert."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sievelight import analysis, distribution, material, reduce
from sievelight import curve as curves
from sievelight._core import Curve, Estimate
from sievelight.study.azimuth import orientation
from sievelight.study.by_area import compare_by_area
from sievelight.study.findings import Findings
from sievelight.study.kernels import Kernels
from sievelight.study.loading import Loaded, load
from sievelight.study.order import look_for_order
from sievelight.study.reduction import absolute, average
from sievelight.study.referee import question_counts, question_curve
from sievelight.study.results import SampleResult
from sievelight.study.settings import Settings, shape_of
from sievelight.study.shared import Shared
from sievelight.study.table import Measurement
from sievelight.study.transmissions import keep_transmission


def analyse(settings: Settings, m: Measurement, result: SampleResult, findings: Findings) -> None:
    """Guinier, Porod, invariant and specific surface; a law that does not hold becomes a note, not a number."""
    s, curve = settings, result.curve
    contrast = contrast_of(s, m, findings) if curve.unit == "1/cm" else None
    guinier = porod = None
    try:
        guinier = analysis.fit_guinier(curve, q_range_per_nm=s.analysis.guinier_q_range_per_nm)
        result.keep("rg_nm", guinier.rg_nm)
        result.details["guinier"] = {
            "q_low": guinier.q_range_per_nm.low,
            "q_high": guinier.q_range_per_nm.high,
            "points": int(guinier.points),
            "q_rg_high": guinier.q_rg_high,
        }
    except (ValueError, ArithmeticError) as error:
        findings.add("note", m.name, f"No Guinier radius: {_first_line(error)}")
    try:
        porod = analysis.fit_porod(curve)
        if porod.law_holds:
            result.keep("porod_constant_per_cm5", porod.constant_per_cm5)
            result.details["porod"] = {"q_low": porod.q_range_per_nm.low, "q_high": porod.q_range_per_nm.high}
        else:
            findings.add("note", m.name, "No Porod constant: " + "; ".join(porod.warnings))
    except (ValueError, ArithmeticError) as error:
        findings.add("note", m.name, f"No Porod constant: {_first_line(error)}")
    if porod is None or not porod.law_holds:
        return
    try:
        invariant = analysis.invariant(curve, guinier=guinier, porod=porod)
        result.keep("invariant_per_cm4", invariant.value_per_cm4)
        result.numbers["invariant_share_extrapolated"] = (
            invariant.share_extrapolated_low + invariant.share_extrapolated_high
        )
        if contrast:
            density = m.get("skeletal_density_g_per_cm3")
            phi = result.summary.get("volume_fraction")
            surface = analysis.specific_surface(
                curve,
                porod=porod,
                invariant=invariant,
                contrast_per_cm2=contrast,
                porosity=(phi.value, phi.u) if phi is not None and 0 < phi.value < 1 else None,
                skeletal_density_g_per_cm3=density,
            )
            if surface.from_contrast_m2_per_cm3 is not None:
                result.keep("specific_surface_m2_per_cm3", surface.from_contrast_m2_per_cm3)
            if surface.m2_per_g is not None:
                result.keep("specific_surface_m2_per_g", surface.m2_per_g)
                result.details["surface_by"] = surface.m2_per_g_by
    except (ValueError, ArithmeticError) as error:
        findings.add("note", m.name, f"No invariant or surface: {_first_line(error)}")


def contrast_of(settings: Settings, m: Measurement, findings: Findings) -> float | None:
    """The contrast of the two phases: given, or from their compositions and densities with tabulated dispersion."""
    d = settings.distribution
    if not d.phase:
        return d.contrast_per_cm2
    wavelength = settings.instrument.wavelength_nm
    first, second = (
        material.scattering_length_density(
            p.composition, wavelength_nm=wavelength, density_g_per_cm3=p.density_g_per_cm3 or 0.0
        )
        for p in d.phase
    )
    contrast = material.contrast_per_cm2(first, second)
    findings.add(
        "note",
        "study",
        f"Contrast of {d.phase[0].composition} and {d.phase[1].composition}: {contrast:.5g} 1/cm².",
        f"scattering-length densities {first.real:.5g} and {second.real:.5g} 1/cm², "
        + (
            "with tabulated dispersion"
            if wavelength
            else "of free electrons, because [instrument] gives no wavelength_nm"
        ),
        "Every volume fraction carries twice the relative error of the contrast, and with it that of the densities.",
    )
    return contrast


def _first_line(error: Exception) -> str:
    return str(getattr(error, "problem", error)).splitlines()[0]


SIZE_SUMMARIES = (
    "x10_nm", "x50_nm", "x90_nm", "mean_nm", "surface_mean_nm", "number_mean_nm", "pore_chord_nm", "relative_width",
    "phi_one_minus_phi", "volume_fraction", "number_per_cm3", "micropore_share", "mesopore_share", "macropore_share",
)  # fmt: skip


def inversion_options(
    settings: Settings, m: Measurement, unit: str, findings: Findings, *, slit: Any = None
) -> dict[str, Any]:
    """What the study asks of an inversion, as `distribution.invert` takes it."""
    s = settings.distribution
    crowded = s.hard_sphere_fraction is not None or s.also_fit == "hard_sphere_fraction"
    return {
        "diameter_nm": s.diameter_nm,
        "contrast_per_cm2": contrast_of(settings, m, findings) if unit == "1/cm" else None,
        "power_law": s.power_law,
        "method": s.method,
        "seed": s.seed,
        "q_range_per_nm": s.q_range_per_nm,
        "root": s.root,
        "shape": shape_of(s),
        "interaction": (
            distribution.HardSpheres(s.hard_sphere_fraction or 0.0, radius_factor=s.hard_sphere_factor)
            if crowded
            else None
        ),
        "slit": slit,
        "power_exponent": s.power_exponent,
        "also_fit": s.also_fit,
        "look_for_order": False,  # it was looked for already, see order.py
    }


MODEL = ("diameter_nm", "q_range_per_nm", "shape", "interaction", "slit", "power_exponent")  # what a kernel depends on


def invert(
    settings: Settings,
    m: Measurement,
    result: SampleResult,
    findings: Findings,
    *,
    slit: Any = None,
    kernels: Kernels | None = None,
) -> None:
    """The size distribution with its bands, and what a referee would ask about it."""
    options = inversion_options(settings, m, result.curve.unit, findings, slit=slit)
    kernel = (kernels or Kernels()).of(result.curve, **{key: options[key] for key in MODEL})
    size = distribution.invert(result.curve, kernel=kernel, **options)
    result.size = size
    for name in SIZE_SUMMARIES:
        estimate = getattr(size, name)
        if math.isfinite(estimate.value):
            result.summary[name] = estimate
            if name in size.influence:
                result.influence[name] = np.asarray(size.influence[name])
    result.summary["background_per_cm"] = size.background
    for name, estimate in size.also_fitted.items():
        result.summary[name] = estimate
        result.influence[name] = np.asarray(size.influence[name])
    result.numbers |= {
        "chi2_per_point": size.chi2_per_point,
        "noise_scale": size.noise_scale,
        "probability_two_modes": size.probability_two_modes,
    }
    for warning in size.warnings:
        findings.add("warning", m.name, warning)
    if "x50_nm" in result.influence:
        shares = curves.variance_by_cause(result.influence["x50_nm"], result.curve)
        data = sum(shares.values())
        rest = max(size.x50_nm.u**2 - data, 0.0)
        whole = data + rest
        if whole > 0:
            result.budget = {cause: share / whole for cause, share in shares.items()} | {
                "regularisation and model": rest / whole
            }


def process(shared: Shared, m: Measurement, findings: Findings, *, kernels: Kernels | None = None) -> SampleResult:
    """Reduce, analyse and invert one sample."""
    try:
        result = reduce_sample(shared, m, findings)
    finally:
        shared.transmissions.pop(m.name, None)  # nobody else asks for it, and a thousand samples may follow
    finish(shared.settings, m, result, findings, slit=shared.slit, kernels=kernels)
    return result


def average_sample(shared: Shared, m: Measurement, findings: Findings, loaded: Loaded) -> Any:
    """A sample's average; before it the transmission, from exposures in which spikes and spots are not yet masked."""
    keep_transmission(shared, m, findings, loaded)
    loaded.__dict__.pop("total", None)
    return average(shared, m, findings, loaded=loaded)


def reduce_sample(
    shared: Shared, m: Measurement, findings: Findings, *, loaded: Loaded | None = None, averaged: Any = None
) -> SampleResult:
    """From a sample's frames to its curve; what is read already, or averaged by `average_sample`, may be given."""
    loaded = loaded or load(m, shared.folder, shared.settings)
    if averaged is None:
        averaged = average_sample(shared, m, findings, loaded)
    reduced, curve = absolute(shared, m, averaged, findings, scale=shared.scale)
    if shared.slit is not None:
        curve = reduce.with_slit(curve, shared.slit)
    t = shared.transmissions.get(m.name)
    thickness = m.get("thickness_mm")
    result = SampleResult(
        name=m.name,
        batch=m.batch,
        route=m.text.get("route", ""),
        transmission=Estimate.normal(t.factor.value, t.u) if t is not None else Estimate(),
        thickness_mm=Estimate.normal(thickness, m.u.get("thickness_mm", 0.0)) if thickness is not None else Estimate(),
        curve=curve,
        steps=[_step(effect) for effect in reduce.whole_chain(averaged, reduced)],
    )
    question_counts(m, averaged, shared.averaged.get(m.reference("background") or ""), findings)
    over = reduce.over_subtracted(curve)
    if over.significant:
        findings.add(
            "warning",
            m.name,
            "The background is over-subtracted: intensities are significantly negative.",
            f"q = {over.q_range_per_nm.low:.3g} … {over.q_range_per_nm.high:.3g} 1/nm, {over.lowest_z:.1f} standard uncertainties below zero",
            "Check the background's transmission, its exposure, and that its cell is the sample's.",
        )
    if shared.settings.reduce.by_area:
        compare_by_area(shared, m, loaded, averaged, result, findings)
    if shared.settings.reduce.azimuth_q_per_nm is not None:
        orientation(shared, m, loaded, result, findings)
    return result


def finish(
    settings: Settings,
    m: Measurement,
    result: SampleResult,
    findings: Findings,
    *,
    slit: Any = None,
    kernels: Kernels | None = None,
) -> None:
    """From a sample's curve to its sizes and laws; a slit goes into the kernel, and the curve stays as measured."""
    question_curve(settings, m, result, findings)
    if result.curve.has_slit():
        _as_smeared(settings, m, result, findings, slit, kernels)
        return
    if look_for_order(settings, m, result, findings) != "carry":
        invert(settings, m, result, findings, kernels=kernels)
    analyse(settings, m, result, findings)
    _cross_check(m, result, findings)


def _cross_check(m: Measurement, result: SampleResult, findings: Findings) -> None:
    """The laws at both ends of the curve against the sizes between them: they read the same data, so they must agree."""
    size = result.size
    rg = result.summary.get("rg_nm")
    if size is None or rg is None or not math.isfinite(size.rg_nm.value):
        return
    apart = rg.value / size.rg_nm.value - 1
    u = math.hypot(rg.u / rg.value, size.rg_nm.u / size.rg_nm.value)
    # 5 % is what Guinier's law itself is off at q Rg near 1.3 for a broad distribution.
    if abs(apart) > 0.05 + 3 * u:
        findings.add(
            "warning",
            m.name,
            "Guinier's radius and the sizes disagree.",
            f"Rg {rg.value:.4g} ± {rg.u:.2g} nm by Guinier's law, {size.rg_nm.value:.4g} ± {size.rg_nm.u:.2g} nm of the "
            f"distribution inside its window",
            "Volume beyond the size window, aggregates, or interference at low q: look at the curve's low end.",
        )


def _as_smeared(
    settings: Settings, m: Measurement, result: SampleResult, findings: Findings, slit: Any, kernels: Kernels | None
) -> None:
    findings.add(
        "note",
        m.name,
        "The curve is smeared by the line-shaped beam and stays so; Guinier's and Porod's laws, which are of pinhole "
        "curves, are not read from it."
        + ("" if slit is not None else " No sizes either: the profile of its slit is not known."),
        "",
        "The slit is folded into the kernel of the sizes; the desmeared line of the report is for the eye only."
        if slit is not None
        else "Reduce the frames here with [instrument.slit], or use a curve of a point-shaped beam.",
    )
    if slit is None:
        return
    invert(settings, m, result, findings, slit=slit, kernels=kernels)
    try:
        seen = reduce.desmear(_above_noise(result.curve), slit)
        result.details["desmeared"] = {
            "q_per_nm": np.asarray(seen.q_per_nm),
            "intensity": np.asarray(seen.intensity),
            "note": seen.note,
        }
    except (ValueError, ArithmeticError) as error:
        findings.add("note", m.name, f"Not desmeared, not even for the eye: {_first_line(error)}")


def _above_noise(curve: Curve) -> Curve:
    """The leading points above three of their uncertainties: what there is for the eye to see."""
    weak = np.flatnonzero(~(curve.intensity > 3 * curves.pointwise_u(curve)))
    if not weak.size or weak[0] < 3:
        return curve
    last = int(weak[0]) - 1
    return curves.crop(curve, q_high_per_nm=float(curve.q_per_nm[last]))


def _step(effect: Any) -> dict[str, Any]:
    return {
        "name": effect.name,
        "equation": effect.equation,
        "source": effect.source,
        "applied": bool(effect.applied),
        "parameters": effect.parameters,
        "note": effect.note,
        "factors": [effect.factor_low, effect.factor_mid, effect.factor_high],
        "relative_u": [effect.relative_u_low, effect.relative_u_mid, effect.relative_u_high],
    }
