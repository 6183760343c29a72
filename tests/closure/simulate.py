# SPDX-License-Identifier: GPL-3.0-or-later
"""A whole experiment as integer counts: sample, cell, empty beam, standard, dark, flat field and direct beams.

Shares nothing with the program (NumPy, SciPy, physics.py). What a reducer is told stands in `Setup`; what is true is
drawn around it with the stated standard uncertainties, so that a right covariance gives chi squared = n.
Intensities are averaged over each pixel at nine Gauss points, polarisation and attenuation taken at its centre.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from closure.physics import Geometry, View, capillary, count, plate

Curve = Callable[[np.ndarray], np.ndarray]
BEAM_PX, BEAM_SD_PX, BEAM_RADIUS_PX = 41, 3.0, 18.0  # the direct beam's frame, its spot, and what counts as transmitted


@dataclass(frozen=True)
class Layer:
    """Air, a window or the sensor: mu in 1/cm as tables give it, and the relative uncertainty of mu times length."""

    name: str
    mu_per_cm: float
    length_mm: float
    relative_u: float = 0.0

    def depth(self, error=0.0):
        return self.mu_per_cm * self.length_mm / 10 * (1 + self.relative_u * error)


@dataclass(frozen=True)
class Sample:
    """Contents and their holder; "plate" (turned by rotation_deg) or "capillary" (thickness = inner diameter)."""

    form: str = "plate"
    mu_per_cm: float = 5.0
    thickness_mm: float = 1.0
    thickness_relative_u: float = 0.005
    rotation_deg: float = 0.0
    wall_mu_per_cm: float = 10.0
    wall_mm: float = 0.05
    beam_width_mm: float = 0.0
    beam_offset_mm: float = 0.0
    axis: str = "vertical"

    def scatter(self, view, thickness_mm):
        mu = self.mu_per_cm / 10
        if self.form == "capillary":
            walls = np.exp(-2 * self.wall_mu_per_cm / 10 * self.wall_mm)
            # The beam's width is known relative to the diameter; only the scale of both is not.
            grown = thickness_mm / self.thickness_mm
            width, offset = self.beam_width_mm * grown, self.beam_offset_mm * grown
            return capillary(
                view, mu=mu, diameter=thickness_mm, beam_width=width, offset=offset, axis=self.axis, walls=walls
            )
        wall = {"wall_mu": self.wall_mu_per_cm / 10, "wall": self.wall_mm}
        return plate(view, mu=mu, thickness=thickness_mm, rotation_deg=self.rotation_deg, **wall)


CARBON_PLATE = Sample(mu_per_cm=3.0, thickness_mm=1.055, wall_mm=0.0)


@dataclass(frozen=True)
class Setup:
    """What a reducer is told of an experiment, and the curves behind it."""

    geometry: Geometry
    rows: int
    columns: int
    truth: Curve  # 1/cm
    standard: Curve  # 1/cm
    standard_relative_u: float = 0.0
    distance_relative_u: float = 0.0
    scale: str = "carbon"  # "carbon", "water" (in the sample's cell), "direct beam"
    wall_scattering: Curve = lambda q: np.zeros_like(q)  # of both walls, per steradian
    parasitic: Curve = lambda q: np.zeros_like(q)  # of slits and air before the sample, per steradian
    solvent: Curve | None = None  # 1/cm
    solvent_share: float = 0.95
    solvent_share_u: float = 0.0
    sample: Sample = field(default_factory=Sample)
    standard_sample: Sample = CARBON_PLATE
    counts_per_pixel: float = 100.0  # median of the sample's, all exposures together
    standard_counts_per_pixel: float = 50.0
    exposures_s: tuple[float, ...] = (0.6, 1.4)
    cell_exposure_s: float = 2.0
    by_monitor: bool = False
    amount_relative_u: float = 0.002  # of each measurement's exposure or monitor
    background_scale_u: float = 0.0
    dark_per_pixel: float = 1.0  # expected in the sample's exposures
    dark_times: float = 4.0  # exposure of the dark relative to them
    load: float = 0.0  # arrivals a dead time in the brightest pixel of the sample's and standard's exposures
    paralysable: bool = False
    dead_time_relative_u: float = 0.03
    flat_sd: float = 0.0
    flat_counts: float = 0.0  # a pixel; 0: the response is known without noise
    sensor: Layer | None = None
    air: tuple[Layer, ...] = ()
    polarisation: tuple[float, float, float] = (0.5, 0.0, 0.0)  # share, its u, plane in degrees
    defects: bool = True
    beamstop_px: float = 5.0
    beam_counts: float = 5e5
    attenuator_relative_u: float = 0.01


@dataclass
class Counts:
    """One measurement: exposures of counts with their times and monitors."""

    frames: list[np.ndarray]
    exposures_s: list[float]
    monitors: list[float]


@dataclass
class Experiment:
    """What was counted, what the reducer may know, and the truth to compare with."""

    setup: Setup
    measured: dict[str, Counts]  # sample, solvent, cell, air, standard, dark
    beams: dict[str, Counts]  # direct beam through each of them; "empty" without any
    mask: np.ndarray
    flat: np.ndarray
    dead_time_s: float
    dark_per_pixel_s: float
    attenuator: float  # as told
    q: np.ndarray
    truth: np.ndarray  # 1/cm, mean over each pixel
    response: np.ndarray  # what each pixel counts of a unit intensity, relative
    standard_error: float  # in units of its standard uncertainty


def defects(setup, view, rng):
    """(mask, cold, hot): a gap between two modules, dead and hot pixels, the beamstop's shadow."""
    shape = view.q.shape
    cold, hot = np.zeros(shape, bool), np.zeros(shape, bool)
    y, x = np.mgrid[: setup.rows, : setup.columns]
    r = np.hypot(x - setup.geometry.beam_px[0], y - setup.geometry.beam_px[1])
    cold |= r < setup.beamstop_px
    if setup.defects:
        cold[:, setup.columns // 3 : setup.columns // 3 + 3] = True
        cold |= rng.random(shape) < 0.003
        hot = rng.random(shape) < 0.002
    return cold | hot, cold, hot


def measure(setup, rng):
    """Draw what is true, then count everything."""
    z = rng.standard_normal
    told = setup.geometry
    true = replace(told, distance_mm=told.distance_mm * (1 + setup.distance_relative_u * z()))
    view = View(true, setup.rows, setup.columns)
    mask, cold, hot = defects(setup, View(told, setup.rows, setup.columns), rng)

    # 1. What a pixel counts of a photon sent towards it.
    eta = np.exp(setup.flat_sd * z(view.q.shape))
    eta /= eta[~mask].mean()
    share, share_u, plane_deg = setup.polarisation
    response = view.solid_angle * view.polarisation(np.clip(share + share_u * z(), 0, 1), plane_deg) * eta
    forward = 1.0
    for layer in setup.air:
        depth = layer.depth(z())
        response = response * view.along(depth)
        forward *= np.exp(-depth)
    if setup.sensor:
        depth = setup.sensor.depth(z())
        response = response * view.caught(depth)
        pitch, yaw, _ = np.radians(setup.geometry.tilt_deg)
        forward *= 1 - np.exp(-depth / (np.cos(pitch) * np.cos(yaw)))  # the beam meets a tilted sensor at an angle
    response[cold] = 0.0

    # 2. Scattering of every measurement per photon, by direction (1/sr).
    truth = view.mean(setup.truth)
    intensity = {"sample": truth}
    if setup.solvent:
        intensity["solvent"] = view.mean(setup.solvent)
        intensity["sample"] = truth + (setup.solvent_share + setup.solvent_share_u * z()) * intensity["solvent"]
    standard_error = z()
    if setup.scale != "direct beam":
        intensity["standard"] = view.mean(setup.standard) * (1 + setup.standard_relative_u * standard_error)
    parasitic, walls = view.mean(setup.parasitic), view.mean(setup.wall_scattering)
    shine, transmission = {"air": parasitic}, {"air": 1.0}
    for name, value in intensity.items():
        holder = setup.standard_sample if name == "standard" else setup.sample
        out = holder.scatter(view, holder.thickness_mm * (1 + holder.thickness_relative_u * z()))
        own_walls = name != "standard" or setup.scale == "water"
        through = out.contents * out.walls
        behind = out.walls_full * walls * own_walls + through * parasitic
        more = 1 + setup.background_scale_u * z() if name == "sample" else 1.0
        shine[name] = out.sample * value / 10 + more * behind  # path in mm, intensity in 1/cm
        transmission[name] = through
        if name == "sample":
            shine["cell"] = out.walls_empty * walls + out.walls * parasitic
            transmission["cell"] = out.walls

    # 3. Flux and exposures from the wished counts, dead time from the wished load.
    good = ~mask
    sample_s = sum(setup.exposures_s)
    flux = setup.counts_per_pixel / sample_s / np.median((response * shine["sample"])[good])
    times = {name: (setup.cell_exposure_s,) for name in shine} | {"sample": setup.exposures_s}
    if "standard" in shine:
        per_s = flux * np.median((response * shine["standard"])[good])
        times["standard"] = (setup.standard_counts_per_pixel / per_s,)
    brightest = flux * max((response * shine[name])[good].max() for name in shine)
    dead_time = setup.load / brightest
    counter = {
        "dead_time_s": dead_time * (1 + setup.dead_time_relative_u * z()) if setup.load else 0.0,
        "paralysable": setup.paralysable,
    }

    # 4. Counting.
    dark_rate = setup.dark_per_pixel / sample_s * rng.uniform(0.5, 1.5, view.q.shape)
    stuck = np.where(hot, 20 * setup.counts_per_pixel / sample_s + dark_rate, dark_rate)

    def expose(rate, seconds, dark, monitored=True):
        out = Counts([], [], [])
        amount_error = setup.amount_relative_u * z()
        for t in seconds:
            drift = rng.uniform(0.8, 1.2) if setup.by_monitor and monitored else 1.0
            error = amount_error if monitored else 0.0
            out.frames.append(count(drift * (1 + error) * rate + dark, t, rng, **counter))
            out.exposures_s.append(t)
            out.monitors.append(1e6 * drift * t)
        return out

    measured = {name: expose(flux * response * shine[name], times[name], stuck) for name in shine}
    measured["dark"] = expose(0 * response, (setup.dark_times * sample_s,), stuck, monitored=False)
    y, x = np.mgrid[:BEAM_PX, :BEAM_PX] - BEAM_PX // 2
    spot = np.exp(-(x**2 + y**2) / 2 / BEAM_SD_PX**2)
    spot /= spot.sum()
    beam_s = max(1.0, setup.beam_counts * spot.max() * dead_time / 2e-3)
    true_attenuator = setup.beam_counts / beam_s / (flux * forward)
    attenuator = true_attenuator / (1 + setup.attenuator_relative_u * z())
    at_beam = flux * true_attenuator * forward * spot
    beam_dark = np.full(spot.shape, setup.dark_per_pixel / sample_s)
    beams = {
        name: expose(t * at_beam, (beam_s,), beam_dark, monitored=False)
        for name, t in ({"empty": 1.0} | transmission).items()
    }
    flat = rng.poisson(setup.flat_counts * eta).astype(float) if setup.flat_counts else eta
    return Experiment(
        setup, measured, beams, mask, flat, dead_time, setup.dark_per_pixel / sample_s, attenuator,
        View(told, setup.rows, setup.columns).q, truth, response, standard_error,
    )  # fmt: skip
