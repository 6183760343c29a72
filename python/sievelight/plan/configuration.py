# SPDX-License-Identifier: GPL-3.0-or-later
"""Can this configuration answer at all: sizes against q, bins and blur, thickness, multiple scattering, count rate."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sievelight import _core, reduce
from sievelight.errors import input_error
from sievelight.plan.outlook import Outlook, with_points

ATTENUATOR = (
    "Attenuate only through the instrument's interlocked procedure and with the radiation-safety officer's rules, the "
    "attenuator checked first: the direct beam damages detectors."
)
BEAMSTOP = (
    "Move beamstop or detector only through the instrument's interlocked procedure and with the radiation-safety officer's "
    "rules, the beam attenuated and the attenuator checked first: the direct beam damages detectors."
)


@dataclass(frozen=True)
class Judgement:
    """What a configuration can and cannot show of the expected sizes."""

    supported_nm: tuple[float, float]  # 3 pi / q_max to pi / q_min
    expected_nm: tuple[float, float]  # x10 to x90
    scattering_probability: float | None = None  # of a photon, within the measured range
    best_thickness_mm: float | None = None  # 1/mu
    thickness_gain: float | None = None  # signal at the best thickness over the signal now
    brightest_pixel_per_s: float | None = None
    dead_time_share: float | None = None  # of the time in which that pixel is blind
    warnings: list[str] = field(default_factory=list)

    @property
    def reaches(self) -> bool:
        """Whether the expected sizes, x10 to x90, lie within what q supports."""
        return self.supported_nm[0] <= self.expected_nm[0] and self.expected_nm[1] <= self.supported_nm[1]

    def lines(self) -> list[str]:
        """Sentences."""
        low, high = self.supported_nm
        return [
            f"Its q range supports sizes from {low:.3g} to {high:.3g} nm; expected are {self.expected_nm[0]:.3g} to {self.expected_nm[1]:.3g} nm (x10 to x90)."
            + ("" if self.reaches else " The exposure stated speaks of the part within it only."),
            *self.warnings,
        ]

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {"reaches": self.reaches} | {name: getattr(self, name) for name in self.__dataclass_fields__}

    def __repr__(self) -> str:
        return "\n".join(["<Judgement", *(f"  {line}" for line in self.lines()), ">"])


def judge_configuration(
    outlook: Outlook,
    *,
    thickness_mm: float | None = None,
    attenuation_per_cm: float | None = None,
    wavelength_nm: float | None = None,
    dead_time_s: float | None = None,
    brightest_pixel_per_s: float | None = None,
    distance_mm: float | None = None,
    pixel_size_mm: float | None = None,
) -> Judgement:
    """Ask of a configuration what an experienced colleague would.

    Parameters
    ----------
    outlook : from `pilot_measurement` or `expected_measurement`.
    thickness_mm, attenuation_per_cm, wavelength_nm : of the sample and the beam; multiple scattering and the best thickness
        need them.
    dead_time_s : of one pixel.
    brightest_pixel_per_s : as the pilot saw it; or distance_mm and pixel_size_mm, with which the beam's flux tells it.

    Returns
    -------
    Judgement
        With `warnings` in words that a person at the instrument can act on.

    Notes
    -----
    Sizes: 3π/q_max to π/q_min (see `invert`). Bins and blur: fringes of a distribution of relative width s fade at
    q = 2/(s D); up to there a bin or two standard deviations of blur must stay below half a fringe, π/D (derived).
    Thickness: d exp(-μd) is largest at d = 1/μ. Multiple scattering as in `reduce.scattering_probability`.

    Examples
    --------
    >>> import sievelight as sl
    >>> pilot = sl.plan.pilot_measurement(sl.examples.curve(), exposure_s=20.0, method="evidence")
    >>> judgement = sl.plan.judge_configuration(pilot, thickness_mm=1.0, wavelength_nm=0.154)
    >>> judgement.reaches, f"{judgement.supported_nm[0]:.0f} to {judgement.supported_nm[1]:.0f} nm"
    (True, '2 to 31 nm')
    """
    expected = outlook.expected
    q_low, q_high = float(expected.q_per_nm[0]), float(expected.q_per_nm[-1])
    if len(expected.q_low_per_nm):
        q_low, q_high = float(expected.q_low_per_nm[0]), float(expected.q_high_per_nm[-1])
    supported = (3 * math.pi / q_high, math.pi / q_low)
    x10, x50, x90, width = _sizes(outlook)
    warnings: list[str] = []
    if x90 > supported[1]:
        warnings.append(
            f"Sizes up to {x90:.3g} nm are expected, but the lowest q of {q_low:.3g} 1/nm supports {supported[1]:.3g} nm: q must "
            f"reach down to {math.pi / x90:.2g} 1/nm. Use a longer distance or a smaller beamstop. {BEAMSTOP}"
        )
    if x10 < supported[0]:
        warnings.append(
            f"Sizes down to {x10:.3g} nm are expected, but the highest q of {q_high:.3g} 1/nm supports {supported[0]:.3g} nm: q "
            f"must reach up to {3 * math.pi / x10:.2g} 1/nm. Use a shorter distance or a shorter wavelength. {BEAMSTOP}"
        )
    warnings += _blur(outlook, x50, width, q_low, q_high)
    tau = _multiple(outlook, thickness_mm, wavelength_nm, warnings)
    best = gain = None
    if attenuation_per_cm is not None and attenuation_per_cm > 0 and thickness_mm is not None:
        best = 10 / attenuation_per_cm
        x = thickness_mm / best
        gain = 1 / (x * math.exp(1 - x))
        # Half the time lost, or more: what a person would act on.
        if gain > 2 and not (x < 1 and tau is not None and tau > reduce.MULTIPLE_SCATTERING_ABOVE / 2):
            warnings.append(
                f"The sample is too {'thick' if x > 1 else 'thin'}: {thickness_mm:.3g} mm, where 1/µ is {best:.3g} mm. At that "
                f"thickness it would scatter {gain:.2g} times as much."
            )
    rate = brightest_pixel_per_s
    if rate is None and outlook.beam is not None and distance_mm and pixel_size_mm:
        rate = _brightest(outlook, distance_mm, pixel_size_mm)
    share = None
    if rate is not None and dead_time_s:
        share = rate * dead_time_s / (1 + rate * dead_time_s)
        # Corrections hold while few counts are lost; above 10 % their model decides (common practice).
        if share > 0.1:
            warnings.append(
                f"The brightest pixel would count {rate:.2g} a second and be blind for {100 * share:.0f} % of the time. {ATTENUATOR}"
            )
    return Judgement(supported, (x10, x90), tau, best, gain, rate, share, warnings)


def _sizes(outlook: Outlook) -> tuple[float, float, float, float]:
    """x10, x50, x90 and relative width that are expected."""
    if outlook.sample is not None:
        # Any noise does: only the values are read.
        at = with_points(outlook.expected, outlook.expected.intensity, np.ones(outlook.expected.q_per_nm.size))
        found = _core.foresee(at, outlook.sample, power_law=False, kernel=outlook.kernel_options())
        return (
            found["x10_nm"].value,
            found["x50_nm"].value,
            found["x90_nm"].value,
            found["relative_width"].value,
        )
    size = outlook.pilot
    if size is None:
        raise input_error("the outlook has neither a pilot nor an expected sample.", "Make it with one of both.")
    return size.x10_nm.value, size.x50_nm.value, size.x90_nm.value, size.relative_width.value


def _blur(outlook: Outlook, x50: float, width: float, q_low: float, q_high: float) -> list[str]:
    q = np.asarray(outlook.expected.q_per_nm)
    fade = min(2 / (width * x50), q_high)
    if fade <= q_low:
        return []
    at = int(np.argmin(np.abs(q - fade)))
    limit = math.pi / x50
    out = []
    if len(outlook.expected.q_low_per_nm):
        bin_width = float(outlook.expected.q_high_per_nm[at] - outlook.expected.q_low_per_nm[at])
        if bin_width > limit:
            out.append(
                f"The bins are too wide for the fringes of {x50:.3g} nm: {bin_width:.2g} 1/nm at q = {q[at]:.2g} 1/nm, where {limit:.2g} "
                f"1/nm is half a fringe. Ask for {math.ceil(q.size * bin_width / limit)} bins."
            )
    if len(outlook.expected.q_resolution_per_nm):
        blur = 2 * float(outlook.expected.q_resolution_per_nm[at])
        if blur > limit:
            out.append(
                f"The beam blurs the fringes of {x50:.3g} nm away: 2 sd of {blur:.2g} 1/nm at q = {q[at]:.2g} 1/nm, where {limit:.2g} "
                "1/nm is half a fringe. Use finer collimation or a longer distance; a width cannot be read otherwise."
            )
    return out


def _multiple(
    outlook: Outlook, thickness_mm: float | None, wavelength_nm: float | None, warnings: list[str]
) -> float | None:
    if outlook.expected.unit != "1/cm" or thickness_mm is None or wavelength_nm is None:
        return None
    tau = float(
        reduce.scattering_probability(outlook.expected, path_mm=thickness_mm, wavelength_nm=wavelength_nm).value
    )
    if tau > reduce.MULTIPLE_SCATTERING_ABOVE:
        warnings.append(
            f"At least {100 * tau:.0f} % of the photons are scattered, so many of them twice: sizes come out small. Use a sample "
            f"of {thickness_mm * reduce.MULTIPLE_SCATTERING_ABOVE / tau:.2g} mm or thinner."
        )
    return tau


def _brightest(outlook: Outlook, distance_mm: float, pixel_size_mm: float) -> float:
    """Counts a second of the brightest pixel, cell and air included, by its solid angle at small angles."""
    b = outlook.beam
    assert b is not None
    seen = np.asarray(outlook.expected.intensity) + (
        0.0 if outlook.background_per_cm is None else outlook.background_per_cm
    )
    solid_angle = (pixel_size_mm / distance_mm) ** 2
    return float(b.photons_per_s * b.transmission * b.thickness_mm / 10 * np.max(seen) * solid_angle)
