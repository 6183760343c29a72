# SPDX-License-Identifier: GPL-3.0-or-later
"""The methods section, worded from what the study really did."""

from __future__ import annotations

from sievelight.study.results import StudyResult


def methods_text(result: StudyResult) -> list[str]:
    """Paragraphs in the trade's words, with their sources."""
    lines = []
    lines += result.calibration.get("lines", [])
    if any(sample.steps for sample in result.samples):
        lines.append(_reduction(result))
    if any(m.role == "curve" for m in result.measurements):
        lines.append(
            "Rows of role curve were reduced before this study; curves of one name were merged with a fitted scale."
        )
    if result.scale.get("words"):
        lines.append(result.scale["words"])
    lines.append(
        "Every cause of error was kept apart from reduction to the verdict: own counts, counts of shared frames (the same numbers in every curve that uses them), and common factors "
        "(transmission, thickness, absolute scale, geometry). What samples share cancels in their differences and stays in absolute values (JCGM 100:2008, 5.2)."
    )
    if any(sample.size for sample in result.samples):
        lines.append(_inversion(result))
        lines += list(dict.fromkeys(note for sample in result.samples if sample.size for note in sample.size.notes))
        lines.append(
            "Guinier (Guinier and Fournet 1955), Porod constant (Porod 1951) and invariant were fitted beside it, each with the full covariance of the curve; the method used is stated as ISO 17867:2020 asks."
        )
    if result.comparison is not None:
        lines.append(_comparison(result))
    lines += _series(result)
    return lines


def _comparison(result: StudyResult) -> str:
    c = result.settings.compare
    scatter = "not pooled (Welch)" if c.scatter == "per_batch" else "pooled over the batches"
    several = "adjusted for several pairs by Holm's procedure"
    if c.looks:
        spending = {"obrien_fleming": "O'Brien-Fleming", "pocock": "Pocock"}[c.spending]
        several = (
            f"looked at after {', '.join(map(str, c.looks[:-1]))} and {c.looks[-1]} samples a batch as planned beforehand, with "
            f"limits by a spending function of the {spending} type (Lan and DeMets 1983), α shared evenly among the pairs"
        )
    return (
        f"Batches were compared in the logarithm of {result.quantity}: batch means with the scatter between samples {scatter}, degrees of freedom by Satterthwaite, two one-sided tests (Schuirmann 1987) at α = {c.alpha:g} "
        f"against a margin of ±{c.margin_percent:g} %, {several}, shared errors cancelling through their covariance."
    )


def _series(result: StudyResult) -> list[str]:
    if not any(s.change is not None for s in result.series):
        return []
    lines = [
        "In each series every frame was compared with the mean of the first tenth of the frames, in twenty bands of neighbouring "
        "bins, by χ² of the difference with what both share cancelled; over the frames by Holm's procedure at 5 %. A frame "
        "that differs was fitted by the start's curve times a factor, with another flat level."
    ]
    if any(s.filling is not None for s in result.series):
        lines.append(
            "Where another shape was found, the start's size distribution was filled with water from the smallest pores up: the "
            "curve then falls by the filled pores' part times 1 − (contrast of solid and water over that of solid and air)², with "
            "no film on the walls of the others. Kelvin's radius r = −2γV/(RT ln RH) of a fully wetting meniscus stands beside."
        )
    return lines


def _reduction(result: StudyResult) -> str:
    r = result.settings.reduce
    spacing = "given" if r.edges_per_nm else {"log": "logarithmic", "linear": "linear"}[r.spacing]
    bins = len(r.edges_per_nm) - 1 if r.edges_per_nm else r.bins
    repeats = (
        "compared with each other (tests conditional on the sums, family-wise error "
        f"{r.repeat_alpha:g} by Holm, Scand. J. Statist. 6 (1979) 65) and summed"
        if r.compare_repeats
        else "summed"
    )
    return (
        f"Frames were averaged over azimuth into {bins} {spacing} bins of q; a bin's intensity is the sum of its counts over "
        "the sum of its pixels' normalisations (exposure, solid angle, polarisation, self-absorption and the other steps "
        "listed above), with Poisson errors (B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201). Repeated exposures "
        f"were {repeats}. The background was scaled by transmission and exposure and subtracted."
    )


def _inversion(result: StudyResult) -> str:
    d = result.settings.distribution
    size = next(sample.size for sample in result.samples if sample.size)
    law = f"K q^-{d.power_exponent:g}" if d.power_law else ""
    tikhonov = "a non-negative Tikhonov regularisation with the strength "
    method = {
        "sampled": "the logarithm of the volume-weighted density carries a Gaussian smoothness prior (second and third "
        "differences, pooled), whose strength, the flat background of either sign"
        + (f" and a power-law term {law}" if law else "")
        + " are marginalised by Monte Carlo sampling; stated are posterior medians and central intervals",
        "evidence": tikhonov + "of largest evidence",
        "cross_validation": tikhonov + "of least generalised cross-validation error",
        "l_curve": tikhonov + "at the corner of the L-curve",
        "maximum_entropy": "maximum entropy, at χ² equal to the number of points",
    }[d.method]
    dilute = "" if d.hard_sphere_fraction is not None else ", dilute"
    root = (
        f" The dilute sum gives φ(1−φ), which was solved for its {d.root} root."
        if d.hard_sphere_fraction is None
        else ""
    )
    return (
        f"Size distributions ({size.shape}{dilute}) were found by regularised inversion of I(q) = b + "
        f"{law + ' + ' if law else ''}Σ x A(q), the form factor averaged over the size cell, the q bin and the q resolution: "
        f"{method}. Percentiles x10, x50, x90 and the mean x̄₁,₃ are volume-weighted (ISO 9276-1, -2).{root}"
    )
