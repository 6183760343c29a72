# SPDX-License-Identifier: GPL-3.0-or-later
"""One measurement, from its exposures to a curve."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sievelight import curve as curves
from sievelight import geometry, material, reduce
from sievelight._core import Curve, Factor
from sievelight.errors import input_error
from sievelight.study import amount
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded, blocks_words, load
from sievelight.study.masks import mask_spots
from sievelight.study.repeats import keep_repeats, mask_spikes
from sievelight.study.shared import Shared
from sievelight.study.table import Measurement


def average(shared: Shared, m: Measurement, findings: Findings, *, loaded: Loaded | None = None) -> Any:
    """Average a measurement's exposures (read here unless given) over azimuth, with its dark and its normalisation."""
    loaded = loaded or load(m, shared.folder, shared.settings)
    if loaded.exposures[0].counts.shape != shared.masked.shape:
        rows, columns = loaded.exposures[0].counts.shape
        raise input_error(
            f"'{m.name}' (row {m.row}) has frames of {rows} × {columns} pixels, the study's mask has {shared.masked.shape[0]} × {shared.masked.shape[1]} (rows × columns).",
            "Put measurements of different detectors into different studies.",
        )
    _check_frames(shared, m, loaded, findings)
    incident = m.get("incident_intensity")
    if incident is not None:
        for exposure in loaded.exposures:
            exposure.monitor = incident * exposure.exposure_s
    dark = m.reference("dark")
    by = shared.normalize_by
    if by == "monitor" and m.role == "background" and shared.settings.reduce.fit_background_per_nm is not None:
        if any(exposure.monitor is None for exposure in loaded.exposures):
            by = "exposure"
            findings.add(
                "note", m.name, "The background has no monitor; its scale is fitted to each sample, so it needs none."
            )
    carried = m.u.get("incident_intensity", 0.0) / incident if by == "monitor" and incident else 0.0
    view = shared.seen_from(m)

    def average_of(exposures: Any, **options: Any) -> Any:
        return view.averager.average(
            exposures,
            name=m.name,
            dark=shared.darks.get(dark) if dark else None,
            dark_name=dark or "",
            normalise_by=by,
            normalise_relative_u=carried,
            **options,
        )

    if loaded.block > 1:
        findings.add("note", m.name, blocks_words(loaded))
    mask_spikes(shared.settings, m, loaded, findings)
    if m.role == "sample":
        _check_calibrant(shared, m, loaded, findings)
        mask_spots(shared.settings, m.name, loaded, shared.masked, view.map, findings)
    kept = keep_repeats(
        shared.settings, m, loaded.exposures, lambda e: average_of(e, check_scatter=False), carried, findings
    )
    averaged = average_of(kept)
    for note in averaged.notes:
        findings.add("note", m.name, note)
    _check_scatter(averaged, m, findings)
    return averaged


def _check_calibrant(shared: Shared, m: Measurement, loaded: Loaded, findings: Findings) -> None:
    total = loaded.total
    name = geometry.looks_like_calibrant(total.counts, shared.seen_from(m).map, masked=shared.masked | total.masked)
    if name:
        findings.add(
            "warning",
            m.name,
            f"This sample shows the rings of {name}, at their places and no others: it looks like the calibrant.",
            "",
            "Check whether two files or two places of the changer were exchanged.",
        )


def _check_frames(shared: Shared, m: Measurement, loaded: Loaded, findings: Findings) -> None:
    """The files' own words against the study's: wavelength, and saturation."""
    theirs, ours = loaded.metadata.wavelength_nm, shared.geometry.wavelength_nm
    # Kα1 and the mean of Kα1 and Kα2 differ by 8e-4: more than twice that is another radiation.
    if theirs is not None and abs(theirs / ours - 1) > 0.002:
        raise input_error(
            f"the file of '{m.name}' (row {m.row}) says a wavelength of {theirs:.6g} nm, the study's is {ours:.6g} nm.",
            "Put measurements at different wavelengths into different studies, or correct [instrument] wavelength_nm.",
        )
    limit = shared.settings.detector.saturation_value or loaded.metadata.saturation_value
    if limit is None:
        return
    new = loaded.readings_at(limit, ~shared.masked)
    if new:
        findings.add(
            "warning",
            m.name,
            "The detector is saturated: those pixels are left out, and their neighbours may be wrong too.",
            f"{new} readings at or above {limit:g} outside the study's mask in {loaded.singles} exposures",
            "Expose in shorter frames, or attenuate the beam through the instrument's interlocked procedure.",
        )


def _check_scatter(averaged: Any, m: Measurement, findings: Findings) -> None:
    """Pixels of a bin scatter as their counts allow, or something else varies over the ring (spots, anisotropy)."""
    ratio, pixels = averaged.scatter_ratio, averaged.pixels
    sound = np.isfinite(ratio) & (averaged.counts > 50) & (averaged.curve.intensity > 0)
    if np.count_nonzero(sound) < 3:
        return
    freedom = float(np.sum(pixels[sound] - 1))
    pooled = float(np.sum(ratio[sound] * (pixels[sound] - 1)) / freedom)
    # A curve that falls by delta = |d ln I| over a bin spreads pixels of mu counts by mu delta / sqrt 12 besides.
    slope = np.abs(np.gradient(np.log(averaged.curve.intensity[sound])))
    slope_share = averaged.counts[sound] / pixels[sound] * slope**2 / 12
    expected = 1 + float(np.sum(slope_share * (pixels[sound] - 1)) / freedom)
    # The pooled ratio is chi^2 per degree of freedom: sd sqrt(2 / freedom); 2 % is what the slope's estimate misses.
    if pooled / expected - 1 > 0.02 + 4 * math.sqrt(2 / freedom) and pooled > 1.1 * expected:
        findings.add(
            "warning",
            m.name,
            "Pixels of one ring scatter more than their counts allow.",
            f"scatter / expectation from counts and the slope within bins = {pooled / expected:.3f} over {int(freedom)} pixels",
            "Look at the frame for single-crystal spots, an anisotropic pattern, or a defect that the mask misses.",
        )


def absolute(
    shared: Shared, m: Measurement, averaged: Any, findings: Findings, *, scale: Any = None
) -> tuple[Any, Curve]:
    """Background, transmission, thickness and scale; then the geometry's causes."""
    s = shared.settings
    background = background_t = None
    factor: Any = 1.0
    name = m.reference("background")
    t = shared.transmissions.get(m.name)
    if name:
        if name not in shared.averaged:
            raise input_error(
                f"the background '{name}' of '{m.name}' (row {m.row}) has no result.",
                "Mend that row first: see its finding.",
            )
        background, background_t = shared.averaged[name], shared.transmissions.get(name)
        given = m.get("background_scale")
        if given is not None:
            factor = given
        elif s.reduce.fit_background_per_nm is not None:
            factor = reduce.fit_background_factor(
                averaged,
                background,
                *s.reduce.fit_background_per_nm,
                transmission=t,
                background_transmission=background_t,
            )
            evidence = f"factor {factor.factor.value:.4g} ± {factor.u:.2g}, χ²/n {factor.chi2_per_point:.2f}"
            findings.add("note", m.name, factor.note, evidence)
    off = s.reduce.switch_off
    thickness = m.get("thickness_mm")
    wavelength = shared.geometry.wavelength_nm
    by_mass = thickness is None or (s.sample.intensity_per == "gram" and m.role == "sample")
    powder = amount.powder(m, wavelength, s) if by_mass else None
    result = reduce.absolute_curve(
        averaged,
        transmission=1.0 if t is None else t,  # an unknown one has its warning already
        background=background,
        background_transmission=1.0 if background_t is None else background_t,
        background_scale=factor,
        background_scale_u=m.u.get("background_scale", 0.0),
        thickness_mm=None if powder is not None else thickness,
        thickness_u_mm=m.u.get("thickness_mm", 0.0),
        powder=powder,
        absolute_scale=scale,
        shape=amount.sample_shape(m, s) if t is not None else None,
        wavelength_nm=wavelength,
        off=off,
    )
    curve = reduce.add_geometry_causes(result.curve, shared.seen_from(m).shifts, solid_angle=scale is None)
    if m.reference("dispersant"):
        result, curve = _without_dispersant(shared, m, result, curve)
    if m.role == "sample":  # a standard has no absolute scale by nature
        for note in result.notes:
            findings.add("note", m.name, note)
        _check_sample(shared, m, result, curve, findings)
    return result, curve


def _without_dispersant(shared: Shared, m: Measurement, result: Any, curve: Curve) -> tuple[Any, Curve]:
    name = m.reference("dispersant") or ""
    if name not in shared.dispersants:
        raise input_error(
            f"the dispersant '{name}' of '{m.name}' (row {m.row}) has no result.",
            "Mend that row first: see its finding; its role must be dispersant.",
        )
    share = m.get("dispersant_share")
    if share is None:
        raise input_error(
            f"'{m.name}' (row {m.row}) names a dispersant without dispersant_share.",
            "Give the volume fraction of the dispersant, 1 - φ.",
        )
    u = m.u.get("dispersant_share", 0.0)
    factor = Factor(share, {f"dispersant share: {m.name}": u} if u else {})
    result = reduce.with_curve(result, curve)
    result = reduce.dispersant(result, shared.dispersants[name], share=factor, name=name)
    return result, result.curve


def _check_sample(shared: Shared, m: Measurement, result: Any, curve: Curve, findings: Findings) -> None:
    """What physics says about a reduced sample before it is analysed."""
    wavelength = shared.geometry.wavelength_nm
    over = reduce.over_subtracted(curve)
    u = curves.total_u(curve)
    if m.reference("background") and np.all(u > 0):
        z = float(np.sum(curve.intensity / u**2) / np.sqrt(np.sum(1 / u**2)))
        if over.significant and z < -3:
            findings.add(
                "warning",
                m.name,
                "The background is brighter than the sample after both are divided by their transmissions.",
                f"weighted mean of the difference {z:.1f} standard uncertainties below zero",
                "Check whether sample and background rows are swapped, their transmissions, exposures and monitors.",
            )
    composition = m.text.get("composition")
    if composition:
        threshold = shared.settings.detector.threshold_keV or material.HC_KEV_NM / wavelength / 2
        for line in material.fluorescence(composition, wavelength_nm=wavelength):
            if line.line_keV > threshold:
                findings.add(
                    "warning",
                    m.name,
                    f"{line.element} in {composition} fluoresces under this wavelength: a flat background that no blank shows.",
                    f"K edge {line.edge_keV:.3f} keV below the beam's {material.HC_KEV_NM / wavelength:.3f} keV; line {line.line_keV:.3f} keV above the detector's threshold of {threshold:.2f} keV",
                    "Raise the detector's threshold or change the radiation; else fit a flat background and distrust high q.",
                )
    if curve.unit == "1/cm" and result.path_mm > 0:
        tau = reduce.scattering_probability(curve, path_mm=result.path_mm, wavelength_nm=wavelength)
        if tau.value > reduce.MULTIPLE_SCATTERING_ABOVE:
            findings.add(
                "warning",
                m.name,
                "Photons are scattered more than once: features are smeared and sizes come out small.",
                f"at least {100 * tau.value:.0f} % are scattered within the measured range over {result.path_mm:.3g} mm",
                "Measure a thinner sample and compare.",
            )
