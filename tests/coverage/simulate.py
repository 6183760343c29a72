# SPDX-License-Identifier: GPL-3.0-or-later
"""Curves whose size distribution is known, for measuring how often the bands hold the truth.

Written apart from the program: spheres through SciPy's spherical Bessel function, distributions on a grid of their own
that is finer than the program's and reaches further, and bins by their own quadrature.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.special import spherical_jn

from sievelight._core import Cause, Curve
from sievelight.distribution import HardSpheres, invert
from sievelight.reduce import slit_profile, with_slit

CONTRAST_PER_CM2 = 1.864e11  # silica against air, 18.6408e10 1/cm^2 at 2.20 g/cm^3
# ln D from 0.3 to 400 nm in steps of 0.0018: 20 times finer than the program's sizes.
LN_D = np.linspace(np.log(0.3), np.log(400.0), 4000)
DIAMETER_NM = np.exp(LN_D)
STEP = LN_D[1] - LN_D[0]


def form_factor(x):
    return (3 * spherical_jn(1, x) / x) ** 2


def spheroid_form_factor(q, diameter_nm, axis_ratio):
    """(q, D) orientation average of spheroids whose volume is that of a sphere of D, polar over equatorial axis given."""
    at, weight = np.polynomial.legendre.leggauss(24)
    cosine, weight = 0.5 * (at + 1), 0.5 * weight
    equatorial = 0.5 * diameter_nm * axis_ratio ** (-1 / 3)
    out = 0.0
    for mu, w in zip(cosine, weight, strict=True):
        out = out + w * form_factor(np.outer(q, equatorial * np.sqrt(1 + mu**2 * (axis_ratio**2 - 1))))
    return out


def structure_factor(q_times_diameter, phi):
    """Percus-Yevick S of hard spheres. Source: N. W. Ashcroft, J. Lekner, Phys. Rev. 145 (1966) 83 (from memory)."""
    a = q_times_diameter
    alpha, gamma_over = (1 + 2 * phi) ** 2 / (1 - phi) ** 4, phi / 2
    beta, gamma = -6 * phi * (1 + phi / 2) ** 2 / (1 - phi) ** 4, gamma_over * alpha
    sin, cos = np.sin(a), np.cos(a)
    g = (
        alpha * (sin - a * cos) / a**2
        + beta * (2 * a * sin + (2 - a**2) * cos - 2) / a**3
        + gamma * (-(a**4) * cos + 4 * ((3 * a**2 - 6) * cos + (a**3 - 6 * a) * sin + 6)) / a**5
    )
    return 1 / (1 + 24 * phi * g / a)


def log_normal(median_nm, sigma, weight=1.0):
    """Volume per ln D with the given volume median."""
    return weight * np.exp(-0.5 * ((LN_D - np.log(median_nm)) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))


def schulz(mean_nm, relative_width):
    """Volume per ln D whose volume-weighted density in D is a Schulz (gamma) distribution."""
    z = 1 / relative_width**2 - 1
    ln_density = z * np.log(DIAMETER_NM / mean_nm) - (z + 1) * DIAMETER_NM / mean_nm
    h = np.exp(ln_density - ln_density.max()) * DIAMETER_NM
    return h / (h.sum() * STEP)


@dataclass(frozen=True)
class Case:
    """A truth, the curve it is seen in, and how it is inverted."""

    volume_per_ln_d: np.ndarray
    q_low: float = 0.05
    q_high: float = 5.0
    bins: int = 200
    noise: float = 0.03  # relative counting noise of the bin at reference_q
    reference_q: float = 0.5
    floor: float = 0.003  # relative noise that no counting removes
    volume_fraction: float = 0.01
    background: float = 1e-3  # flat level, in units of the particles' intensity at reference_q
    power_law: float = 0.0  # K q_min^-4 in units of the particles' intensity at q_min
    scale_u: float = 0.0  # relative standard uncertainty of a common scale
    cell: float = 0.0  # what an empty cell scatters, subtracted: in units of the particles' intensity at reference_q
    cell_u: float = 0.0  # relative standard uncertainty of the factor with which it was subtracted
    hard_spheres: float = 0.0  # volume fraction of hard spheres, each size among its own kind
    axis_ratio: float = 1.0  # of spheroids
    slit: tuple[float, float] | None = None  # half top and half base of a line's trapezoid, 1/nm
    options: dict = field(default_factory=dict)

    def edges(self):
        return np.geomspace(self.q_low, self.q_high, self.bins + 1)

    def particles(self, q):
        """(n) intensity of the particles alone at points of q, 1/cm."""
        volume = np.pi / 6 * DIAMETER_NM**3 * self.volume_per_ln_d
        some = volume > 1e-14 * volume.max()
        size = DIAMETER_NM[some]
        if self.axis_ratio == 1.0:
            each = form_factor(0.5 * np.outer(q, size))
        else:
            each = spheroid_form_factor(q, size, self.axis_ratio)
        if self.hard_spheres > 0:
            each = each * structure_factor(np.outer(q, size), self.hard_spheres)
        return CONTRAST_PER_CM2**2 * 1e-21 * self.volume_fraction * STEP * (each @ volume[some])

    def ideal(self):
        """(bins) intensity of the particles alone, and of q^-4, averaged over each bin (annulus, or strip of a line)."""
        edges = self.edges()
        if self.slit is not None:
            return self._smeared(edges)
        at, weight = np.polynomial.legendre.leggauss(6)
        low, high = edges[:-1], edges[1:]
        intensity, power, norm = np.zeros(self.bins), np.zeros(self.bins), np.zeros(self.bins)
        for a, w in zip(at, weight, strict=True):
            q = 0.5 * (low + high) + 0.5 * (high - low) * a
            intensity += w * q * self.particles(q)
            power += w * q**-3
            norm += w * q
        return intensity / norm, power / norm

    def _smeared(self, edges):
        """The same along a line-shaped beam: 2 integral W(l) I(sqrt(q^2 + l^2)) dl, W a trapezoid of area 1/2."""
        top, base = self.slit
        q = np.geomspace(edges[0] / 1.01, np.hypot(edges[-1], base) * 1.01, 3000)
        particles = CubicSpline(np.log(q), np.log(self.particles(q)))
        at, weight = np.polynomial.legendre.leggauss(40)
        inner, outer = 0.5 * top * (at + 1), top + 0.5 * (base - top) * (at + 1)
        along = np.concatenate([inner, outer])
        profile = np.concatenate([np.full(40, 1.0), (base - outer) / (base - top)]) / (top + base)
        w = 2 * profile * np.concatenate([0.5 * top * weight, 0.5 * (base - top) * weight])
        intensity, power = np.zeros(self.bins), np.zeros(self.bins)
        few, share = np.polynomial.legendre.leggauss(4)
        for a, part in zip(few, share / 2, strict=True):
            across = 0.5 * (edges[1:] + edges[:-1]) + 0.5 * (edges[1:] - edges[:-1]) * a
            k = np.hypot(across[:, None], along)
            intensity += part * (np.exp(particles(np.log(k))) @ w)
            power += part * (k**-4.0 @ w)
        return intensity, power

    def truth(self, low_nm, high_nm):
        """The summaries of the part of the truth inside a size window; window edges cut through grid cells."""
        inside = np.clip((LN_D + STEP / 2 - np.log(low_nm)) / STEP, 0, 1)
        inside *= np.clip((np.log(high_nm) - LN_D + STEP / 2) / STEP, 0, 1)
        h = self.volume_per_ln_d * inside
        below = (np.cumsum(h) - 0.5 * h) / h.sum()
        mean = (h * DIAMETER_NM).sum() / h.sum()
        sd = np.sqrt((h * (DIAMETER_NM - mean) ** 2).sum() / h.sum())
        volume = self.volume_fraction * h.sum() * STEP
        percentile = {f"x{p}_nm": float(np.exp(np.interp(p / 100, below, LN_D))) for p in (10, 50, 90)}
        return percentile | {
            "mean_nm": mean,
            "relative_width": sd / mean,
            # Between hard spheres the sum of the sizes is the volume fraction itself.
            "phi_one_minus_phi": volume * (1 - volume) if self.hard_spheres else volume,
        }

    def density(self, diameter_nm, smoothing_ln_d):
        """The true q3 (1/nm) smoothed like the reported one, its integral over the given sizes 1."""
        weight = np.exp(-0.5 * ((np.log(diameter_nm)[:, None] - LN_D) / smoothing_ln_d) ** 2)
        q3 = (weight @ self.volume_per_ln_d) / weight.sum(axis=1) / diameter_nm
        return q3 / np.trapezoid(q3, diameter_nm)

    def curve(self, rng, ideal=None):
        """One noisy measurement of the case."""
        particles, q4 = self.ideal() if ideal is None else ideal
        edges = self.edges()
        q = np.sqrt(edges[:-1] * edges[1:])
        reference = np.interp(self.reference_q, q, particles)
        level = self.background * reference
        mean = particles + level + self.power_law * particles[0] / q4[0] * q4
        # Counts of a bin grow with its area, q^2 for equal steps in ln q. A negative level is what remains when a
        # background of the same size was subtracted, so its counts add to the noise.
        counted = particles + abs(level) * (1 if level > 0 else 3) + self.power_law * particles[0] / q4[0] * q4
        # An empty cell falls with q to a flat level; its own run counts as much as the cell did in the sample's.
        cell = self.cell * reference * (1 + (0.4 * self.reference_q / q) ** 3)
        counted = counted + 2 * cell
        counts = counted * q**2 / (reference * self.reference_q**2) / self.noise**2
        sigma = counted * np.sqrt(1 / counts + self.floor**2)
        scale = 1 + self.scale_u * rng.standard_normal()
        intensity = scale * (mean + sigma * rng.standard_normal(self.bins))
        causes = {"scale": Cause("coherent", self.scale_u * intensity)} if self.scale_u > 0 else {}
        if self.cell > 0:
            intensity = intensity + self.cell_u * rng.standard_normal() * cell
            causes["factor of the cell"] = Cause("coherent", self.cell_u * cell)
        made = Curve(
            q_per_nm=q,
            intensity=intensity,
            private_u=scale * sigma,
            causes=causes,
            q_low_per_nm=edges[:-1],
            q_high_per_nm=edges[1:],
            unit="1/cm",
        )
        return made if self.slit is None else with_slit(made, self.profile())

    def profile(self):
        """The slit as the program takes it."""
        return slit_profile(half_top_mm=self.slit[0], half_base_mm=self.slit[1])

    def invert(self, rng, *, ideal=None, **more):
        """Invert one noisy measurement of the case with its options."""
        options = dict(self.options) | more
        if self.slit is not None:
            options["slit"] = self.profile()
        if options.pop("hard_spheres", False):
            options["interaction"] = HardSpheres(self.hard_spheres)
        return invert(self.curve(rng, ideal), contrast_per_cm2=CONTRAST_PER_CM2, **options)


def cases():
    """Name -> case. The first group is smooth shapes at 3 % noise; the rest bend one condition each."""
    ln8 = log_normal(8, 0.2)
    crowded = dict(volume_fraction=0.2, q_low=0.1, q_high=3.0, bins=150)
    demo = dict(q_low=0.08, q_high=1.7, bins=150, noise=0.02, volume_fraction=0.12)
    return {
        "log-normal 8 nm": Case(ln8),
        "log-normal 20 nm": Case(log_normal(20, 0.2)),
        "Schulz 12 nm": Case(schulz(12, 0.3)),
        "bimodal 6 + 25 nm, 5:1": Case(log_normal(6, 0.15, 5 / 6) + log_normal(25, 0.15, 1 / 6)),
        "negative background": Case(ln8, background=-1e-3),
        "strong negative background": Case(ln8, background=-1e-2),
        "power law": Case(ln8, power_law=1.0, options={"power_law": True}),
        "power law allowed, none there": Case(ln8, options={"power_law": True}),
        "beyond the window": Case(log_normal(55, 0.3)),
        "below the window": Case(log_normal(8, 0.2, 0.8) + log_normal(1.2, 0.2, 0.2)),
        "demo, 3 % scale": Case(log_normal(14, 0.2), scale_u=0.03, **demo),
        "log-normal 8 nm, narrow": Case(log_normal(8, 0.1)),
        "log-normal 8 nm, wide": Case(log_normal(8, 0.4)),
        "10 % noise": Case(ln8, noise=0.10),
        "1 % noise": Case(ln8, noise=0.01),
        "2.6 % scale": Case(ln8, scale_u=0.026),
        "cell subtracted, known to 1 %": Case(ln8, cell=0.1, cell_u=0.01),
        "line-shaped beam": Case(ln8, slit=(0.7, 1.3)),
        "hard spheres 0.2, known": Case(
            log_normal(10, 0.15), hard_spheres=0.2, options={"hard_spheres": True}, **crowded
        ),
        "hard spheres 0.2, fitted": Case(
            log_normal(10, 0.15),
            hard_spheres=0.2,
            options={"hard_spheres": True, "also_fit": "hard_sphere_fraction"},
            **crowded,
        ),
    }


def wrong_models():
    """Name -> case whose inversion assumes what is not so: interference ignored, spheroids taken for spheres."""
    return {
        f"hard spheres {phi:g} ignored, width {sigma:g}, {100 * noise:g} % noise": Case(
            log_normal(10, sigma), noise=noise, hard_spheres=phi, volume_fraction=phi
        )
        for phi in (0.1, 0.2)
        for sigma, noise in ((0.1, 0.03), (0.2, 0.03), (0.4, 0.01), (0.4, 0.03))
    } | {
        "spheroids 1.2 as spheres": Case(log_normal(10, 0.2), axis_ratio=1.2),
        "spheroids 1.5 as spheres": Case(log_normal(10, 0.2), axis_ratio=1.5),
    }
