# SPDX-License-Identifier: GPL-3.0-or-later
"""Physics of the invented demonstration: where pixels lie, what scatters, and how a counter counts.

NumPy only, and on purpose no code shared with the sievelight package: this is the independent simulator that the
reducer is judged against. Lengths of pores in nm, of samples in mm, of the instrument in mm, q in 1/nm.
"""

from dataclasses import dataclass
from math import erf, exp, log, pi, sqrt
from pathlib import Path
from statistics import NormalDist

import numpy as np

# Attenuation at 8.048 keV, 1/cm, from the NIST X-ray attenuation tables (Hubbell & Seltzer, NISTIR 5632).
MU_SILICON, MU_SILICA_SOLID, MU_GLASSY_CARBON, MU_POLYIMIDE, MU_AIR = 148.12, 78.756, 6.744, 8.594, 0.01174
SILICA_SLD_PER_CM2 = 18.6408e10  # SiO2 of 2.20 g/cm3 against air (0), X-rays far above the edges
# Water at 25 C: attenuation (same tables), scattering-length density far above the edges, surface tension and molar
# volume (IAPWS R1-76(2014); 18.015 g/mol over 0.99705 g/cm3), gas constant.
MU_WATER, WATER_SLD_PER_CM2 = 10.17, 9.391e10
WATER_TENSION_N_PER_M, WATER_M3_PER_MOL, GAS_J_PER_MOL_K, CELL_KELVIN = 0.07197, 1.80685e-5, 8.314463, 298.15
SILVER_BEHENATE_D_NM = 5.8380  # Huang, Toraya, Blanton & Wu, J. Appl. Cryst. 26 (1993) 180-184


# ---------------------------------------------------------------------------------------------------- geometry


@dataclass(frozen=True)
class Instrument:
    """An area detector behind a sample; angles in degrees, right-handed, about the beam point, R = Rz Rx Ry."""

    rows: int = 600
    columns: int = 500
    pixel_mm: float = 0.1
    wavelength_nm: float = 0.154187
    distance_mm: float = 603.4
    beam_x_px: float = 248.86
    beam_y_px: float = 300.57
    pitch_deg: float = 0.15
    yaw_deg: float = -0.13
    roll_deg: float = 0.0
    polarization_fraction: float = 0.5
    beam_fwhm_mm: float = 0.5
    air_mm: float = 80.0
    sensor_mm: float = 0.45
    dead_time_s: float = 1.25e-7
    saturation_value: int = 1_000_000
    dark_rate_per_s: float = 1e-4
    flux_per_s: float = 4e6
    flux_drift: float = 0.002  # relative standard deviation from row to row; the incident monitor follows it


@dataclass(frozen=True)
class PixelMap:
    """Per pixel, with a rim of `rim` extra pixels on each side so that the beam spot can be folded in at the edges."""

    rim: int
    q_per_nm: np.ndarray
    azimuth: np.ndarray
    path: np.ndarray  # 1 / cos 2theta
    factor: np.ndarray  # solid angle x polarisation x air x sensor, in steradian


def map_pixels(instrument: Instrument, rim: int = 12) -> PixelMap:
    """Position, q and the angle-dependent factors of every pixel. Source: plane geometry; Pauw, J. Phys. Condens.
    Matter 25 (2013) 383201 for the list of factors."""
    x = (np.arange(-rim, instrument.columns + rim) - instrument.beam_x_px) * instrument.pixel_mm
    y = (np.arange(-rim, instrument.rows + rim) - instrument.beam_y_px) * instrument.pixel_mm
    x, y = np.meshgrid(x, y)
    turn = _rotation(instrument)
    position = [turn[k, 0] * x + turn[k, 1] * y + (instrument.distance_mm if k == 2 else 0.0) for k in range(3)]
    range2 = sum(p * p for p in position)
    cos_scatter = position[2] / np.sqrt(range2)  # cos 2theta
    cos_sensor = sum(n * p for n, p in zip(turn[:, 2], position)) / np.sqrt(range2)  # to the detector's normal
    sin2 = 1.0 - cos_scatter**2
    azimuth = np.arctan2(position[1], position[0])
    share = instrument.polarization_fraction
    polarisation = share * (1 - sin2 * np.cos(azimuth) ** 2) + (1 - share) * (1 - sin2 * np.sin(azimuth) ** 2)
    solid_angle = instrument.pixel_mm**2 * cos_sensor / range2
    air = np.exp(-MU_AIR * instrument.air_mm / 10.0 / cos_scatter)
    sensor = -np.expm1(-MU_SILICON * instrument.sensor_mm / 10.0 / cos_sensor)
    q = 4.0 * pi / instrument.wavelength_nm * np.sqrt((1.0 - cos_scatter) / 2.0)
    return PixelMap(rim, q, azimuth, 1.0 / cos_scatter, solid_angle * polarisation * air * sensor)


def _rotation(instrument: Instrument) -> np.ndarray:
    pitch, yaw, roll = np.radians([instrument.pitch_deg, instrument.yaw_deg, instrument.roll_deg])
    about_x = np.array([[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]])
    about_y = np.array([[np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]])
    about_z = np.array([[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1]])
    return about_z @ about_x @ about_y


def fold_beam_spot(image: np.ndarray, sigma_px: float, rim: int) -> np.ndarray:
    """The rimmed image averaged over a round Gaussian beam spot and over the pixel's own area; the rim is cut off."""
    # Gaussian folded with the pixel: differences of the error function. Its variance is sigma^2 + 1/12 pixel^2.
    edges = [erf((k - 0.5) / (sqrt(2) * sigma_px)) for k in range(-rim, rim + 2)]
    kernel = np.diff(edges) / (edges[-1] - edges[0])
    rows, columns = image.shape[0] - 2 * rim, image.shape[1] - 2 * rim
    tall = sum(w * image[k : k + rows] for k, w in enumerate(kernel))
    return sum(w * tall[:, k : k + columns] for k, w in enumerate(kernel))


# -------------------------------------------------------------------------------------------------- scattering


@dataclass(frozen=True)
class Pores:
    """Spheres, log-normal by volume: median diameter, standard deviation of ln(diameter), pore volume fraction."""

    x50_nm: float
    sigma_ln: float
    phi: float
    surface_per_cm_nm4: float  # grain surfaces: K q**-4
    flat_per_cm: float

    def intensity_per_cm(self, q_per_nm: np.ndarray) -> np.ndarray:
        """dSigma/dOmega of one wafer, 1/cm: a dilute sum of spheres (no interference between pores), phi (1 - phi).

        The grain-surface term stops rising below 0.03 1/nm, which lies under the beamstop."""
        # A Gaussian integrand over +-6 sd: the plain sum converges faster than any power of the step.
        z = np.linspace(-6.0, 6.0, 241)
        weight = np.exp(-0.5 * z * z)
        weight /= weight.sum()
        diameter = self.x50_nm * np.exp(self.sigma_ln * z)
        volume_cm3 = pi / 6.0 * diameter**3 * 1e-21
        pores = sphere_form_factor(np.outer(q_per_nm, diameter / 2.0)) @ (weight * volume_cm3)
        scale = self.phi * (1.0 - self.phi) * SILICA_SLD_PER_CM2**2
        return scale * pores + self.surface_per_cm_nm4 * np.maximum(q_per_nm, 0.03) ** -4.0 + self.flat_per_cm

    def intensity_with_water_per_cm(self, q_per_nm: np.ndarray, filled_below_nm: float) -> np.ndarray:
        """The same wafer where water fills every pore below a diameter: those scatter with the contrast of silica against
        water, the others with that against air. The grains' outer surfaces and the flat level stay as they are."""
        cut = min(max(log(max(filled_below_nm, 1e-9) / self.x50_nm) / self.sigma_ln, -6.0), 6.0)
        # Smooth on [-6, cut]: a Gauss-Legendre rule of 160 nodes is exact to rounding.
        node, weight = np.polynomial.legendre.leggauss(160)
        half = 0.5 * (cut + 6.0)
        z = -6.0 + half * (node + 1.0)
        density = half * weight * np.exp(-0.5 * z * z) / sqrt(2.0 * pi)
        diameter = self.x50_nm * np.exp(self.sigma_ln * z)
        volume_cm3 = pi / 6.0 * diameter**3 * 1e-21
        filled = sphere_form_factor(np.outer(q_per_nm, diameter / 2.0)) @ (density * volume_cm3)
        lost = SILICA_SLD_PER_CM2**2 - (SILICA_SLD_PER_CM2 - WATER_SLD_PER_CM2) ** 2
        return self.intensity_per_cm(q_per_nm) - self.phi * (1.0 - self.phi) * lost * filled

    def volume_share_below(self, diameter_nm: float) -> float:
        """Share of the pore volume in pores smaller than this."""
        return NormalDist().cdf(log(max(diameter_nm, 1e-9) / self.x50_nm) / self.sigma_ln)

    def percentiles_in_window(self, low_nm: float, high_nm: float) -> dict[str, float]:
        """x10, x50, x90, mean and relative width (sd / mean) of the volume-weighted density cut to the window."""
        normal, s = NormalDist(), self.sigma_ln
        a, b = log(low_nm / self.x50_nm) / s, log(high_nm / self.x50_nm) / s
        inside = normal.cdf(b) - normal.cdf(a)
        moment = [
            self.x50_nm**k * exp(0.5 * k * k * s * s) * (normal.cdf(b - k * s) - normal.cdf(a - k * s)) / inside
            for k in (1, 2)
        ]
        found = {
            f"x{p}_nm": self.x50_nm * exp(s * normal.inv_cdf(normal.cdf(a) + p / 100 * inside)) for p in (10, 50, 90)
        }
        return found | {"mean_nm": moment[0], "relative_width": sqrt(moment[1] - moment[0] ** 2) / moment[0]}


def kelvin_radius_nm(relative_humidity_percent: float) -> float:
    """Radius of a wetting meniscus of water in equilibrium with its vapour at 25 C: -2 gamma V_m / (R T ln RH).
    Source: W. Thomson (Lord Kelvin), Phil. Mag. 42 (1871) 448 (from memory)."""
    energy = GAS_J_PER_MOL_K * CELL_KELVIN * log(relative_humidity_percent / 100.0)
    return -2e9 * WATER_TENSION_N_PER_M * WATER_M3_PER_MOL / energy


def sphere_form_factor(x: np.ndarray) -> np.ndarray:
    """P(qR) of a sphere. Source: Rayleigh, Proc. R. Soc. A 84 (1911) 25."""
    small = x < 0.1  # the closed form cancels there
    safe = np.where(small, 1.0, x)
    amplitude = 3.0 * (np.sin(safe) - safe * np.cos(safe)) / safe**3
    return np.where(small, 1.0 - x**2 / 10.0 + x**4 / 280.0, amplitude) ** 2


class GlassyCarbon:
    """The certified table (glassy_carbon.csv), interpolated in ln I over ln q and continued with its end slopes."""

    thickness_mm = 1.055

    def __init__(self) -> None:
        path = Path(__file__).with_name("glassy_carbon.csv")
        with path.open(encoding="utf-8") as file:
            lines = [line for line in file if not line.startswith("#")]
        table = np.loadtxt(lines[1:], delimiter=",")  # q_per_nm, intensity_per_cm, standard uncertainty
        self._q, self._intensity = np.log(table[:, 0]), np.log(table[:, 1])

    def intensity_per_cm(self, q_per_nm: np.ndarray) -> np.ndarray:
        q, i = self._q, self._intensity
        x = np.log(np.maximum(q_per_nm, 1e-3))
        inside = np.interp(x, q, i)
        below = i[0] + (x - q[0]) * (i[4] - i[0]) / (q[4] - q[0])
        above = i[-1] + (x - q[-1]) * (i[-1] - i[-4]) / (q[-1] - q[-4])
        return np.exp(np.where(x < q[0], below, np.where(x > q[-1], above, inside)))


def silver_behenate_per_sr(q_per_nm: np.ndarray) -> np.ndarray:
    """Rings of an invented powder layer, per steradian and photon; width from 90 nm crystallites (Huang et al. 1993,
    about 900 A) by the Scherrer formula with K = 0.9. Heights and the slope below the rings are invented."""
    sigma = 0.9 * 2.0 * pi / 90.0 / (2.0 * sqrt(2.0 * log(2.0)))
    rings = sum(
        height * np.exp(-0.5 * ((q_per_nm - 2.0 * pi * order / SILVER_BEHENATE_D_NM) / sigma) ** 2)
        for order, height in ((1, 2.0), (2, 0.6), (3, 0.9))
    )
    return rings + 0.05 + 0.02 * np.maximum(q_per_nm, 0.03) ** -3.0


def cell_per_sr(q_per_nm: np.ndarray) -> np.ndarray:
    """Two polyimide windows, 0.05 mm together, per steradian and photon: broad, and steeper where voids show. Invented."""
    return 0.005 * (0.7 + 0.02 * np.maximum(q_per_nm, 0.03) ** -3.0)


def parasitic_per_sr(q_per_nm: np.ndarray, azimuth: np.ndarray) -> np.ndarray:
    """Slits and air, per steradian and photon: steep at the beamstop, a little stronger to the sides. Invented."""
    steep = 60.0 * (0.07 / np.maximum(q_per_nm, 0.03)) ** 4 * (1.0 + 0.2 * np.cos(2.0 * azimuth))
    return steep + 0.006 / (1.0 + (q_per_nm / 1.5) ** 2)


def oblique_mean(path: np.ndarray, mu_d: float) -> np.ndarray:
    """Self-absorption of a plate relative to the straight path, C = [1 - exp(-w)] / w with w = mu d (path - 1)."""
    w = mu_d * (path - 1.0)
    small = w < 1e-6
    safe = np.where(small, 1.0, w)
    return np.where(small, 1.0 - 0.5 * w, -np.expm1(-safe) / safe)


# -------------------------------------------------------------------------------------------------- the counter


def count_events(rng: np.random.Generator, rate_per_s: np.ndarray, exposure_s: float, dead_time_s: float) -> np.ndarray:
    """Counts of a non-paralysable counter that sees Poisson arrivals; the counter is live at the start.

    Where rate x dead time <= 1e-4 a Poisson number of the reduced mean n t / (1 + n tau) is drawn: its variance is
    then too large by at most 3e-4 of itself. Elsewhere the arrivals are followed (exact renewal process): the times
    of the first k counts as one gamma variate, with k so low that they end before the exposure does (7 sd; chance of
    failure below 1e-11 a pixel), the rest one by one. Source: Knoll, Radiation Detection and Measurement, ch. 4."""
    rate = np.asarray(rate_per_s, dtype=float)
    counts = rng.poisson(rate * exposure_s / (1.0 + rate * dead_time_s))
    fast = np.nonzero(rate * dead_time_s > 1e-4)
    if fast[0].size:
        counts[fast] = _follow_arrivals(rng, rate[fast], exposure_s, dead_time_s)
    return counts


def _follow_arrivals(rng: np.random.Generator, rate: np.ndarray, exposure_s: float, dead_time_s: float) -> np.ndarray:
    counts = np.zeros(rate.shape, dtype=np.int64)
    live_at = np.zeros(rate.shape)  # the moment from which the counter is live again
    while True:
        expected = np.maximum(exposure_s - live_at, 0.0) * rate / (1.0 + rate * dead_time_s)
        block = np.floor(expected - 7.0 * np.sqrt(expected) - 10.0).astype(np.int64)
        go = np.nonzero(block > 0)[0]
        if not go.size:
            break
        live_at[go] += rng.standard_gamma(block[go]) / rate[go] + block[go] * dead_time_s
        counts[go] += block[go]
    open_ones = np.arange(rate.size)
    while open_ones.size:
        arrival = live_at[open_ones] + rng.standard_exponential(open_ones.size) / rate[open_ones]
        open_ones, arrival = open_ones[arrival <= exposure_s], arrival[arrival <= exposure_s]
        counts[open_ones] += 1
        live_at[open_ones] = arrival + dead_time_s
    return counts
