# SPDX-License-Identifier: GPL-3.0-or-later
"""Experiments that differ on purpose: small and wide angles, weak and strong, every form of sample and scale."""

from __future__ import annotations

import numpy as np
from scipy.special import spherical_jn

from closure.physics import Geometry
from closure.simulate import CARBON_PLATE, Layer, Sample, Setup

WATER_PER_CM = 0.016422  # 20 C, r_e^2 n_e^2 k_B T kappa_T. Source: Kell 1975, evaluated with 30 digits
WATER_RELATIVE_U = 0.0032


def spheres(q, radius_nm, spread=0.15):
    """Mean form factor of spheres with seven radii, 1 at q = 0."""
    out = 0.0
    steps = np.linspace(-2, 2, 7)
    weight = np.exp(-0.5 * steps**2)
    for s, w in zip(steps, weight / weight.sum()):
        x = q * radius_nm * np.exp(spread * s)
        out = out + w * (3 * spherical_jn(1, x) / x) ** 2
    return out


def curve_of(rng, q_low, q_high, strength):
    """Spheres, two-phase, or a correlation peak, with a power law and a flat level; about `strength` 1/cm mid-way."""
    middle = np.sqrt(q_low * q_high)
    size = rng.uniform(1.0, 3.0) / middle
    kind = rng.integers(3)
    law, flat = rng.uniform(0.01, 0.1), rng.uniform(0.05, 0.5)
    power = rng.uniform(3.0, 4.0)

    def curve(q):
        if kind == 0:
            main = spheres(q, size)
        elif kind == 1:
            main = 1 / (1 + (q * size) ** 2) ** 2
        else:
            main = 0.5 * np.exp(-0.5 * ((q - middle) / (0.25 * middle)) ** 2) + 0.3 * np.exp(-((q * size) ** 2) / 5)
        return strength * (3 * main + law * (middle / q) ** power + flat)

    return curve


def table_curve(table):
    q, intensity, _ = table
    return lambda at: np.interp(at, q, intensity)


def random_setup(number, rng, table):
    """The `number`-th experiment: what varies on purpose goes by the number, the rest is drawn."""
    wide = number % 2 == 1
    form = ("plate", "turned", "capillary", "plate", "capillary")[number % 5]
    scale = ("carbon", "carbon", "direct beam", "carbon", "water", "direct beam", "carbon")[number % 7]
    rows, columns = [(120, 140), (140, 180), (180, 200), (200, 240)][int(rng.integers(4))]
    pixel = 0.172
    # At wide angles the standard's certified range must stay in view.
    wavelength = 0.154187 if wide and scale != "direct beam" else rng.choice([0.154187, 0.0709, 0.1341])
    span = max(rows, columns) * pixel * 0.75  # from the beam to the far side
    two_theta = rng.uniform(20, 32) if wide else rng.uniform(2.0, 6.0)
    distance = span / np.tan(np.radians(two_theta))
    beam = (columns * rng.uniform(0.1, 0.5), rows * rng.uniform(0.2, 0.5))
    tilt = tuple(rng.uniform(-6, 6, 3)) if number % 3 else (0.0, 0.0, 0.0)
    geometry = Geometry(wavelength, distance, pixel, beam, tilt)
    beamstop = rng.uniform(4, 7)
    k = 2 * np.pi / wavelength
    q_low, q_high = k * beamstop * pixel / distance, 2 * k * np.sin(np.radians(two_theta) / 2)
    solvent = number % 4 == 2
    strength = rng.uniform(0.5, 3) if solvent or scale == "water" else 10 ** rng.uniform(-0.5, 2)
    mu_t = rng.uniform(0.1, 1.4)
    thickness = rng.uniform(0.5, 2.0)
    sample = Sample(
        form="capillary" if form == "capillary" else "plate",
        mu_per_cm=10 * mu_t / thickness,
        thickness_mm=thickness,
        thickness_relative_u=rng.uniform(0.002, 0.01),
        rotation_deg=rng.uniform(5, 25) * rng.choice([-1, 1]) if form == "turned" else 0.0,
        wall_mu_per_cm=rng.uniform(4, 10),
        wall_mm=0.01 if form == "capillary" else 0.05,
        beam_width_mm=thickness * rng.uniform(0.2, 0.7),
        beam_offset_mm=thickness * rng.uniform(-0.1, 0.1),
        axis=str(rng.choice(["vertical", "horizontal"])),
    )
    wall_level, slit_level = rng.uniform(0.02, 0.3, 2) * strength * thickness / 10
    wall_size, slit_size = rng.uniform(0.5, 2) / q_high, k * np.radians(1.0)
    standard = table_curve(table)
    standard_sample = CARBON_PLATE
    standard_relative_u = table[2]
    if scale == "water":
        standard, standard_relative_u = (lambda q: np.full_like(q, WATER_PER_CM)), WATER_RELATIVE_U
        standard_sample = sample
        wall_level, slit_level = WATER_PER_CM * thickness / 10, WATER_PER_CM * thickness / 10
        strength = min(strength, 0.3)
    truth = curve_of(rng, q_low, q_high, strength)
    return Setup(
        geometry=geometry,
        rows=rows,
        columns=columns,
        truth=truth,
        standard=standard,
        standard_relative_u=standard_relative_u,
        standard_sample=standard_sample,
        distance_relative_u=5e-4 if number % 6 == 4 and scale != "direct beam" else 0.0,
        scale=scale,
        wall_scattering=lambda q: wall_level * (0.3 + np.exp(-((q * wall_size) ** 2))),
        parasitic=lambda q: slit_level * np.exp(-((q / slit_size) ** 2)),
        solvent=(lambda q: 0.3 * strength * (1 + (q / q_high) ** 2)) if solvent else None,
        solvent_share=rng.uniform(0.8, 0.99),
        solvent_share_u=0.005,
        sample=sample,
        counts_per_pixel=10 ** rng.uniform(1.3, 2.5),
        standard_counts_per_pixel=60.0,
        exposures_s=tuple(rng.uniform(0.3, 2.0, rng.integers(1, 4))),
        cell_exposure_s=rng.uniform(0.5, 3.0),
        by_monitor=number % 3 == 1,
        amount_relative_u=rng.uniform(0.0, 0.003),
        background_scale_u=rng.choice([0.0, 0.01]),
        dark_per_pixel=rng.uniform(0.1, 3.0),
        dark_times=rng.uniform(1, 5),
        load=rng.uniform(0.03, 0.2),
        paralysable=number % 4 == 3,
        flat_sd=rng.uniform(0.01, 0.05),
        flat_counts=10 ** rng.uniform(3.5, 4.5),
        sensor=Layer("sensor", rng.uniform(15, 80), 0.32, 0.03),
        air=(
            Layer("air", rng.uniform(0.001, 0.01), distance, 0.03),
            Layer("window", rng.uniform(2, 12), 0.05, 0.05),
        ),
        polarisation=(rng.uniform(0.4, 0.99), 0.01, rng.choice([0.0, 20.0])),
        beamstop_px=beamstop,
    )
