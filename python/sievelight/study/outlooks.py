# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study plans from: its own pilot or the sample it expects, in each configuration of the instrument."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import material, parametric, plan
from sievelight.errors import input_error, nearest
from sievelight.plan import Beam, Outlook
from sievelight.study.findings import Findings
from sievelight.study.loading import load
from sievelight.study.sample import average_sample, inversion_options, reduce_sample
from sievelight.study.settings import Configuration, Plan, Settings
from sievelight.study.shared_rows import prepare_shared
from sievelight.study.stacks import expand_stacks
from sievelight.study.table import Measurement, read_table

Make = Callable[[Configuration | None], tuple[Outlook, dict[str, Any]]]


def _geometry_facts(settings: Settings, c: Configuration | None, wavelength_nm: float) -> dict[str, Any]:
    side = settings.instrument.pixel_size_mm
    return {
        "wavelength_nm": wavelength_nm,
        "dead_time_s": settings.detector.dead_time_s,
        "distance_mm": (c.distance_mm if c else None) or settings.instrument.distance_mm,
        "pixel_size_mm": max(side) if side else None,
    }


def _beam(
    p: Plan, c: Configuration | None, flux: float, wavelength_nm: float, transmission: float, thickness: float
) -> Beam:
    return Beam(
        photons_per_s=flux * (c.relative_flux if c else 1.0),
        wavelength_nm=wavelength_nm,
        transmission=transmission,
        cell_transmission=p.cell_transmission,
        thickness_mm=thickness,
        azimuth_share=(c.azimuth_share if c and c.azimuth_share is not None else p.azimuth_share),
    )


def of_expected(settings: Settings, findings: Findings) -> Make:
    """Outlooks of the sample that [plan] describes."""
    p = settings.plan
    r = settings.reduce
    wavelength = settings.instrument.wavelength_nm
    if settings.instrument.collimation == "line":
        raise input_error(
            "[plan] has sizes, but the beam is a line: counts are foretold for a point-shaped beam only.",
            "Plan from a pilot, a short exposure of one sample.",
        )
    if wavelength is None or r.q_min_per_nm is None or r.q_max_per_nm is None:
        raise input_error(
            "[plan] has sizes, but [instrument] wavelength_nm or [reduce] q_min_per_nm, q_max_per_nm are missing.",
            "Add them: counts follow from the solid angle of each bin.",
        )
    blank = Measurement(name="expected sample", role="sample", row=0)
    options = inversion_options(settings, blank, "1/cm", findings)
    options["method"] = "sampled"
    contrast = options.pop("contrast_per_cm2")
    if contrast is None:
        raise input_error(
            "[plan] has sizes but the contrast is not known.", "Give [distribution] contrast_per_cm2 or phases."
        )
    for key in ("seed", "look_for_order", "power_law"):
        options.pop(key)
    thickness_mm, photons_per_s, volume_fraction = p.thickness_mm, p.photons_per_s, p.volume_fraction
    q_min_per_nm, q_max_per_nm = r.q_min_per_nm, r.q_max_per_nm
    assert thickness_mm is not None and photons_per_s is not None and volume_fraction is not None

    def make(c: Configuration | None) -> tuple[Outlook, dict[str, Any]]:
        lam = (c.wavelength_nm if c else None) or wavelength
        mu = None
        if p.composition:
            mu = material.attenuation_per_cm(
                p.composition, wavelength_nm=lam, density_g_per_cm3=p.density_g_per_cm3 or 0.0
            )
        t = p.transmission
        if t is None:
            t = p.cell_transmission * (math.exp(-mu * thickness_mm / 10) if mu is not None else 1.0)
        outlook = plan.expected_measurement(
            family=p.family,
            sizes=p.sizes,
            volume_fraction=volume_fraction,
            contrast_per_cm2=contrast,
            beam=_beam(p, c, photons_per_s, lam, t, thickness_mm),
            q_min_per_nm=(c.q_min_per_nm if c else None) or q_min_per_nm,
            q_max_per_nm=(c.q_max_per_nm if c else None) or q_max_per_nm,
            bins=(c.bins if c else None) or r.bins,
            q_resolution_per_nm=c.q_resolution_per_nm if c else p.q_resolution_per_nm,
            background_per_cm=p.background_per_cm if c is None or c.background_per_cm is None else c.background_per_cm,
            flat_level_per_cm=p.flat_level_per_cm,
            power_law_k=p.power_law_k,
            power_law=settings.distribution.power_law,
            relative_floor=p.relative_floor,
            exposure_s=p.exposure_s,
            **options,
        )
        return outlook, _geometry_facts(settings, c, lam) | {"thickness_mm": p.thickness_mm, "attenuation_per_cm": mu}

    return make


def of_pilot(path: Path, settings: Settings, findings: Findings) -> tuple[str, Make]:
    """Outlooks from the study's own short exposure: as it is, or carried over to another configuration."""
    p = settings.plan
    table = expand_stacks(read_table(path.parent / settings.study.measurements), path.parent)
    table = [m for m in table if not m.problems]
    rows = [m for m in table if m.role == "sample"]
    if not rows:
        raise input_error(
            f"{settings.study.measurements} has no row of role sample for a pilot.",
            "Measure one sample for a short time, or describe the expected one by [plan] sizes.",
        )
    pilot = rows[0]
    if p.pilot is not None:
        found = [m for m in rows if m.name == p.pilot]
        if not found:
            raise input_error(f"[plan] pilot is '{p.pilot}'.", nearest(p.pilot, [m.name for m in rows]))
        pilot = found[0]
    keep = [m for m in table if m.role not in ("sample", "curve")] + [pilot]
    shared = prepare_shared(settings, path.parent, {m.name: m for m in keep}, findings)
    loaded = load(pilot, path.parent, settings)
    averaged = average_sample(shared, pilot, findings, loaded)
    result = reduce_sample(shared, pilot, findings, loaded=loaded, averaged=averaged)
    name = pilot.reference("background")
    taken = shared.averaged.get(name) if name else None
    cause = f"counts: {name}"
    options = inversion_options(settings, pilot, result.curve.unit, findings, slit=shared.slit)
    options["method"] = "sampled"  # whatever the study asks for now: quick looks do not know their own errors
    seed = options.pop("seed")
    here = plan.pilot_measurement(
        result.curve,
        exposure_s=float(averaged.exposure_s),
        background_s=float(taken.exposure_s) if taken is not None else None,
        background_cause=cause if cause in result.curve.causes else None,
        counts=np.interp(result.curve.q_per_nm, averaged.curve.q_per_nm, averaged.counts),
        seed=seed,
        **options,
    )
    per_pixel = np.asarray(averaged.counts) / np.maximum(np.asarray(averaged.pixels), 1) / float(averaged.exposure_s)
    wavelength = shared.geometry.wavelength_nm
    thickness = pilot.get("thickness_mm") or p.thickness_mm
    mu = None
    if thickness and math.isfinite(result.transmission.value):
        cell = shared.transmissions.get(name) if name else None
        own = result.transmission.value / (cell.factor.value if cell is not None else 1.0)
        mu = -math.log(own) / (thickness / 10) if 0 < own < 1 else None
    facts = {
        "thickness_mm": thickness,
        "attenuation_per_cm": mu,
        "wavelength_nm": wavelength,
        "dead_time_s": settings.detector.dead_time_s,
    }

    def make(c: Configuration | None) -> tuple[Outlook, dict[str, Any]]:
        if c is None:
            return here, facts | {"brightest_pixel_per_s": float(np.max(per_pixel))}
        if not thickness or result.curve.unit != "1/cm" or result.curve.has_slit():
            raise input_error(
                "another configuration can be compared only from a pilot in 1/cm of a point-shaped beam.",
                "Give the pilot's thickness and a standard, or leave [[plan.configuration]] out.",
            )
        flux, background = _seen_by_pilot(here, taken is not None, thickness, wavelength)
        best = parametric.compare_families(
            result.curve,
            ["log-normal", "two log-normals"],
            contrast_per_cm2=options["contrast_per_cm2"],
            power_law=options["power_law"],
            q_range_per_nm=options["q_range_per_nm"],
            **{key: options[key] for key in ("shape", "interaction", "power_exponent")},
        ).best
        volume = best.phi_one_minus_phi.value if options["interaction"] is None else best.volume_fraction.value
        lam = c.wavelength_nm or wavelength
        further = {key: value for key, value in options.items() if key not in ("contrast_per_cm2", "power_law", "look_for_order", "q_range_per_nm", "slit")}  # fmt: skip
        q = np.asarray(here.expected.q_per_nm)
        low, high, bins = c.q_min_per_nm or float(q[0]), c.q_max_per_nm or float(q[-1]), c.bins or q.size
        edges = np.geomspace(low, high, bins + 1)
        outlook = plan.expected_measurement(
            family=best.family,
            sizes={key: value.value for key, value in best.parameters.items()},
            # expected_measurement asks for phi; small or not, its phi (1 - phi) is what the pilot gave
            volume_fraction=volume if options["interaction"] is not None else 0.5 - math.sqrt(max(0.25 - volume, 0.0)),
            contrast_per_cm2=options["contrast_per_cm2"],
            beam=_beam(p, c, flux, lam, 1.0, thickness),
            q_min_per_nm=low,
            q_max_per_nm=high,
            bins=bins,
            q_resolution_per_nm=c.q_resolution_per_nm,
            background_per_cm=np.interp(np.sqrt(edges[1:] * edges[:-1]), q, background)
            if c.background_per_cm is None
            else c.background_per_cm,
            flat_level_per_cm=best.background.value,
            power_law_k=best.power_law_k.value if options["power_law"] else 0.0,
            power_law=options["power_law"],
            relative_floor=p.relative_floor,
            exposure_s=here.exposure_s,
            **further,
        )
        side = (shared.geometry.pixel_size_x_mm, shared.geometry.pixel_size_y_mm)
        return outlook, facts | {
            "wavelength_nm": lam,
            "distance_mm": c.distance_mm or shared.geometry.distance_mm,
            "pixel_size_mm": max(side),
        }

    return pilot.name, make


def _seen_by_pilot(
    here: Outlook, has_background: bool, thickness_mm: float, wavelength_nm: float
) -> tuple[float, NDArray[np.float64]]:
    """Photons a second that would count as the pilot did (transmission and detector included), and the background in 1/cm.

    Of Poisson counts at the rate r = g (I + B) the variance rate of I is (I + B) / g, so g = sqrt(r / v).
    """
    q = np.asarray(here.expected.q_per_nm)
    counted = np.asarray(here.counts_per_s)
    v = np.asarray(here.rates.sample)
    good = (v > 0) & (counted > 0)
    g = np.sqrt(counted[good] / v[good])
    whole = np.interp(q, q[good], np.sqrt(counted[good] * v[good]))
    area = (np.asarray(here.expected.q_high_per_nm) ** 2 - np.asarray(here.expected.q_low_per_nm) ** 2) / 2
    per_photon = thickness_mm / 10 * wavelength_nm**2 / (2 * math.pi) * area[good]
    flux = float(np.median(g / per_photon))
    background = np.clip(whole - np.asarray(here.expected.intensity), 0.0, None) if has_background else np.zeros(q.size)
    return flux, background
