# SPDX-License-Identifier: GPL-3.0-or-later
"""What a planned measurement will look like: its expected curve, and the counting noise that each second leaves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight import _core, distribution
from sievelight._core import CountingRates, Curve, NamedSample, SizeDistribution, SummaryRates
from sievelight._core import ExpectedBeam as Beam
from sievelight.distribution import kernel_options
from sievelight.errors import input_error, nearest

__all__ = ["Beam", "Outlook", "best_split", "expected_measurement", "foresee", "pilot_measurement"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Outlook:
    """A measurement to be planned."""

    expected: Curve  # without noise, on its bins, with the coherent causes that no exposure removes
    rates: CountingRates  # of its points
    inversion: dict[str, Any]  # keywords of `sievelight.invert`
    exposure_s: float  # of the pilot, or a first guess; where the search begins
    background_s: float
    sample: NamedSample | None = None  # of an expected sample
    beam: Beam | None = None
    background_per_cm: Array | None = None  # (n) in units of the sample's intensity
    counts_per_s: Array | None = None  # (n) in each bin, background included
    pilot: SizeDistribution | None = None
    notes: list[str] = field(default_factory=list)

    @property
    def has_background(self) -> bool:
        """Whether a background is taken off that has counting noise of its own."""
        return bool(np.any(self.rates.background > 0))

    def curve(self, sample_s: float, background_s: float, *, rng: np.random.Generator | None = None) -> Curve:
        """The curve that these exposures would give, without its coherent causes; noisy with `rng`."""
        u = _core.predicted_u(self.rates, sample_s=sample_s, background_s=background_s)
        noise = 0.0 if rng is None else u * rng.standard_normal(u.size)
        return with_points(self.expected, self.expected.intensity + noise, u, causes={})

    def kernel_options(self) -> Any:
        """Shape, interaction and slit of the inversion, as the core takes them."""
        return kernel_options(**{key: self.inversion[key] for key in KERNEL_KEYS if key in self.inversion})

    def __repr__(self) -> str:
        what = "pilot" if self.pilot is not None else "expected sample"
        return f"<Outlook: {what}, {self.expected.q_per_nm.size} bins, from {self.exposure_s:.4g} s>"


def with_points(curve: Curve, intensity: ArrayLike, u: ArrayLike, *, causes: Mapping[str, Any] | None = None) -> Curve:
    """A curve on the same bins with other intensities and private uncertainties."""

    def kept(values: Any) -> Any:
        return None if values is None or not len(values) else values

    return Curve(
        q_per_nm=curve.q_per_nm,
        intensity=np.asarray(intensity, dtype=float),
        private_u=np.asarray(u, dtype=float),
        causes=dict(curve.causes) if causes is None else dict(causes),
        q_low_per_nm=kept(curve.q_low_per_nm),
        q_high_per_nm=kept(curve.q_high_per_nm),
        q_resolution_per_nm=kept(curve.q_resolution_per_nm),
        slit_length_per_nm=kept(curve.slit_length_per_nm),
        slit_width_per_nm=kept(curve.slit_width_per_nm),
        unit=curve.unit,
    )


def _sample(
    family: str, sizes: Mapping[str, float], names: Mapping[str, Sequence[str]], **further: float
) -> NamedSample:
    if family not in names:
        raise input_error(f"the family of the expected sample is '{family}'.", nearest(family, names))
    wanted = names[family]
    if set(sizes) != set(wanted):
        raise input_error(
            f"the expected {family} distribution is given {', '.join(sizes) or 'no sizes'}.",
            f"It needs {', '.join(wanted)}.",
        )
    return NamedSample(family=family, parameters=[float(sizes[name]) for name in wanted], **further)


# In the order of the core.
FAMILY_SIZES: dict[str, tuple[str, ...]] = {
    "monodisperse": ("diameter_nm",),
    "log-normal": ("median_nm", "sigma"),
    "Schulz-Zimm": ("mean_nm", "relative_width"),
    "Gaussian": ("mean_nm", "relative_width"),
    "two log-normals": ("median_1_nm", "sigma_1", "median_2_nm", "sigma_2", "share_1"),
}


def expected_measurement(
    *,
    family: str = "log-normal",
    sizes: Mapping[str, float],
    volume_fraction: float,
    contrast_per_cm2: float,
    beam: Beam,
    q_min_per_nm: float,
    q_max_per_nm: float,
    bins: int = 150,
    q_resolution_per_nm: float | None = None,
    background_per_cm: ArrayLike = 0.0,
    flat_level_per_cm: float = 0.0,
    power_law_k: float = 0.0,
    power_law: bool | None = None,
    relative_floor: float = 0.0,
    exposure_s: float = 100.0,
    **model: Any,
) -> Outlook:
    """A measurement of a sample that is only supposed so far.

    Parameters
    ----------
    family, sizes : as `fit_parametric` names them, e.g. ``sizes={"median_nm": 8, "sigma": 0.2}``.
    volume_fraction : of the particles or pores.
    contrast_per_cm2 : difference of the scattering-length densities, 1/cm².
    beam : ``Beam(photons_per_s=..., wavelength_nm=..., thickness_mm=..., transmission=..., azimuth_share=...)``.
    q_min_per_nm, q_max_per_nm, bins : bins, even in ln q.
    q_resolution_per_nm : one standard deviation of the instrument's blur.
    background_per_cm : scattering of cell and air in units of this sample's intensity: a number or one a bin.
    flat_level_per_cm, power_law_k : of the sample itself; `power_law` says whether the inversion fits K too (default: as
        `power_law_k` is given).
    relative_floor : error of each bin that counting does not remove.
    exposure_s : where the search begins.
    **model : shape, interaction, diameter_nm and other keywords of :func:`sievelight.invert`.

    Returns
    -------
    Outlook

    Raises
    ------
    InputError
        Sizes that do not belong to the family, and numbers out of range.

    Examples
    --------
    >>> import sievelight as sl
    >>> outlook = sl.plan.expected_measurement(
    ...     sizes={"median_nm": 8, "sigma": 0.2},
    ...     volume_fraction=0.01,
    ...     contrast_per_cm2=1.864e11,
    ...     beam=sl.plan.Beam(photons_per_s=2e6, wavelength_nm=0.154, thickness_mm=1.0, transmission=0.4),
    ...     q_min_per_nm=0.1,
    ...     q_max_per_nm=3.0,
    ...     bins=60,
    ... )
    >>> outlook, outlook.has_background
    (<Outlook: expected sample, 60 bins, from 100 s>, False)
    """
    if not 0 < volume_fraction < 1:
        raise input_error(f"the volume fraction is {volume_fraction:g}.", "Give a share between 0 and 1.")
    if not 0 < q_min_per_nm < q_max_per_nm:
        raise input_error(f"q goes from {q_min_per_nm:g} to {q_max_per_nm:g} 1/nm.", "Give the smaller number first.")
    edges = np.geomspace(q_min_per_nm, q_max_per_nm, bins + 1)
    low, high = edges[:-1], edges[1:]
    grid = Curve(
        q_per_nm=np.sqrt(low * high),
        intensity=np.ones(bins),
        private_u=np.ones(bins),
        q_low_per_nm=low,
        q_high_per_nm=high,
        q_resolution_per_nm=None if q_resolution_per_nm is None else np.full(bins, q_resolution_per_nm),
        unit="1/cm",
    )
    crowded = model.get("interaction") is not None
    sample = _sample(
        family,
        sizes,
        FAMILY_SIZES,
        volume=volume_fraction if crowded else volume_fraction * (1 - volume_fraction),
        contrast_per_cm2=contrast_per_cm2,
        flat_level=flat_level_per_cm,
        power_law_k=power_law_k,
    )
    inversion = {
        "contrast_per_cm2": contrast_per_cm2,
        "power_law": power_law_k > 0 if power_law is None else power_law,
    } | model
    intensity = _core.expected_intensity(grid, sample, kernel=kernel_options(**_kernel_part(inversion)))
    expected = with_points(grid, intensity, np.ones(bins))
    background = np.broadcast_to(np.asarray(background_per_cm, dtype=float), (bins,)).copy()
    rates = _core.expected_rates(expected, background_per_cm=background, beam=beam, relative_floor=relative_floor)
    counts = _core.counts_per_s(expected, beam) * (np.asarray(intensity) + background)
    return Outlook(expected, rates, inversion, exposure_s, exposure_s, sample, beam, background, counts)


def pilot_measurement(
    curve: Curve,
    *,
    exposure_s: float,
    background_s: float | None = None,
    background_cause: str | None = None,
    counts: ArrayLike | None = None,
    seed: int = 1,
    **inversion: Any,
) -> Outlook:
    """A measurement like one that was done for a short time.

    Parameters
    ----------
    curve : the pilot, reduced. `private_u` is taken as the sample's own counts.
    exposure_s, background_s : seconds of the pilot and of its background.
    background_cause : id of the pointwise cause that holds the background's counts, e.g. "counts: empty cell".
    counts : (n) of each bin of the pilot, for a warning where the planned exposure leaves too few.
    **inversion : keywords of :func:`sievelight.invert`; the pilot is inverted with them once, and what it fits is taken
        as what further exposures will find.

    Returns
    -------
    Outlook

    Raises
    ------
    InputError
        No such cause, exposures not above zero, and as `invert`.
    NumericalError
        As `invert`.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.plan.pilot_measurement(sl.examples.curve(), exposure_s=20.0, method="evidence")
    <Outlook: pilot, 90 bins, from 20 s>
    """
    if not exposure_s > 0 or (background_s is not None and not background_s > 0):
        raise input_error(f"the pilot's exposures are {exposure_s} s and {background_s} s.", "Give seconds above zero.")
    if background_cause is not None and background_cause not in curve.causes:
        raise input_error(
            f"the pilot has no cause '{background_cause}'.", nearest(background_cause, curve.causes or {"none": 0})
        )
    size = distribution.invert(curve, seed=seed, **inversion)
    # What the inversion left out stays out, so that the points are those of its fit.
    used_at = np.isin(np.asarray(curve.q_per_nm), np.asarray(size.q_per_nm))
    used = _points(curve, used_at)
    notes = [f"pilot: {warning}" for warning in size.warnings]
    zero = np.zeros(used.q_per_nm.size)
    background, floor2, coherent = zero, zero.copy(), {}
    for name, cause in used.causes.items():
        if name == background_cause:
            background = np.asarray(cause.u) ** 2 * (background_s or exposure_s)
        elif cause.kind == "pointwise":
            floor2 = floor2 + np.asarray(cause.u) ** 2
        else:
            coherent[name] = cause
    widened = size.noise_scale**2  # where the points scatter more than their counts say, longer exposures will too
    rates = CountingRates(
        sample=widened * np.asarray(used.private_u) ** 2 * exposure_s,
        background=widened * background,
        floor=np.sqrt(widened * floor2),
    )
    expected = with_points(used, size.fit, np.asarray(used.private_u), causes=coherent)
    return Outlook(
        expected,
        rates,
        dict(inversion),
        exposure_s,
        background_s or exposure_s,
        counts_per_s=None if counts is None else np.asarray(counts, dtype=float)[used_at] / exposure_s,
        pilot=size,
        notes=notes,
    )


def _points(curve: Curve, keep: NDArray[np.bool_]) -> Curve:
    def part(values: Any) -> Any:
        return None if values is None or not len(values) else np.asarray(values)[keep]

    return Curve(
        q_per_nm=part(curve.q_per_nm),
        intensity=part(curve.intensity),
        private_u=part(curve.private_u),
        causes={name: _core.Cause(c.kind, part(c.u)) for name, c in curve.causes.items()},
        q_low_per_nm=part(curve.q_low_per_nm),
        q_high_per_nm=part(curve.q_high_per_nm),
        q_resolution_per_nm=part(curve.q_resolution_per_nm),
        slit_length_per_nm=part(curve.slit_length_per_nm),
        slit_width_per_nm=part(curve.slit_width_per_nm),
        unit=curve.unit,
    )


KERNEL_KEYS = ("shape", "interaction", "slit", "power_exponent", "axis_ratio", "length_ratio", "length_nm", "width_nm",
               "shell_ratio", "shell_nm", "shell_contrast_ratio")  # fmt: skip


def _kernel_part(inversion: Mapping[str, Any]) -> dict[str, Any]:
    return {key: inversion[key] for key in KERNEL_KEYS if key in inversion}


def foresee(outlook: Outlook, *, exposure_s: float, background_s: float | None = None) -> dict[str, Any]:
    """Errors of the expected sample's named distribution after an exposure, by Fisher information.

    F = Jᵀ Σ⁻¹ J with volume, flat level and, where fitted, K q⁻⁴ as nuisances: the least that any unbiased fit of that
    family can reach. The free-form inversion assumes less and knows less; plan with `plan_exposure`.

    Parameters
    ----------
    outlook : from `expected_measurement`.
    exposure_s, background_s : seconds of the sample and of its background; the same where the latter is absent.

    Returns
    -------
    dict of name -> `value`, `u`, `influence`: the family's parameters, x10_nm, x50_nm, x90_nm, mean_nm, relative_width,
    volume, background, power_law_k.

    Raises
    ------
    InputError
        An outlook without a named sample, or exposures that are not above zero.

    Notes
    -----
    R. A. Fisher, Proc. Camb. Phil. Soc. 22 (1925) 700; H. Cramér, Mathematical Methods of Statistics, 1946 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> outlook = sl.plan.expected_measurement(
    ...     sizes={"median_nm": 8, "sigma": 0.2},
    ...     volume_fraction=0.01,
    ...     contrast_per_cm2=1.864e11,
    ...     beam=sl.plan.Beam(photons_per_s=2e6, wavelength_nm=0.154),
    ...     q_min_per_nm=0.1,
    ...     q_max_per_nm=3.0,
    ... )
    >>> x50 = sl.plan.foresee(outlook, exposure_s=100.0)["x50_nm"]
    >>> round(x50.value, 2), x50.u < 0.05
    (8.0, True)
    """
    if outlook.sample is None:
        raise input_error(
            "this outlook comes from a pilot and names no distribution.", "Use expected_measurement, or plan_exposure."
        )
    u = _core.predicted_u(outlook.rates, sample_s=exposure_s, background_s=background_s or exposure_s)
    return _core.foresee(
        with_points(outlook.expected, outlook.expected.intensity, u),
        outlook.sample,
        power_law=bool(outlook.inversion.get("power_law", False)),
        kernel=outlook.kernel_options(),
    )


def best_split(*, sample_rate: float, background_rate: float, samples: int) -> float:
    """t_b / t_s of least total time n t_s + t_b for a background shared by n samples: sqrt(n B / A).

    Parameters
    ----------
    sample_rate, background_rate : A and B, variance of the summary times seconds, of the sample's and the background's counts.
    samples : n.

    Returns
    -------
    float
        Seconds of the background over seconds of one sample.

    Raises
    ------
    InputError
        No samples, a sample's rate that is not above zero, or a background's below zero.

    Notes
    -----
    Lagrange multipliers (common practice for two unequal counters).

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.plan.best_split(sample_rate=4.0, background_rate=1.0, samples=4)
    1.0
    """
    return _core.best_split(SummaryRates(sample=sample_rate, background=background_rate), samples=samples)
