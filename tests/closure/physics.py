# SPDX-License-Identifier: GPL-3.0-or-later
"""What happens to the photons and in the counter, written apart from the program: NumPy and SciPy only.

Angles and solid angles come from vectors and pixel corners, absorption from sums along straight rays, dead time from
arrival times; no formula is taken from the package. Lengths in mm, mu in 1/mm, q in 1/nm, times in s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RectBivariateSpline
from scipy.spatial.transform import Rotation

GAUSS_3 = np.polynomial.legendre.leggauss(3)
GAUSS_16 = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True)
class Geometry:
    """A flat detector: beam point in pixels, tilt about x (pitch), y (yaw) and z (roll) as R_z R_x R_y."""

    wavelength_nm: float
    distance_mm: float
    pixel_mm: float
    beam_px: tuple[float, float]
    tilt_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)  # pitch, yaw, roll

    def places(self, x, y):
        """(..., 3) places in mm of detector points given in pixels; the sample is the origin, the beam runs along z."""
        pitch, yaw, roll = self.tilt_deg
        axes = Rotation.from_euler("ZXY", [roll, pitch, yaw], degrees=True).as_matrix()
        on_plate = self.pixel_mm * ((x - self.beam_px[0])[..., None] * axes[:, 0])
        on_plate = on_plate + self.pixel_mm * ((y - self.beam_px[1])[..., None] * axes[:, 1])
        return on_plate + np.array([0.0, 0.0, self.distance_mm]), axes[:, 2]

    def q(self, place):
        """2 pi/lambda times the length of the change of direction."""
        change = place / np.linalg.norm(place, axis=-1, keepdims=True) - np.array([0.0, 0.0, 1.0])
        return 2 * np.pi / self.wavelength_nm * np.linalg.norm(change, axis=-1)


def triangle_solid_angle(a, b, c):
    """Solid angle of a triangle seen from the origin. Source: A. van Oosterom, J. Strackee, IEEE Trans. Biomed. Eng. 30
    (1983) 125 (from memory)."""
    la, lb, lc = (np.linalg.norm(v, axis=-1) for v in (a, b, c))
    volume = np.abs(np.sum(a * np.cross(b - a, c - a), axis=-1))
    dots = [np.sum(u * v, axis=-1) for u, v in ((a, b), (a, c), (b, c))]
    return 2 * np.arctan2(volume, la * lb * lc + dots[0] * lc + dots[1] * lb + dots[2] * la)


class View:
    """Every pixel of a detector: direction (rows, columns, 3), q, solid angle, incidence, and nine places inside it."""

    def __init__(self, geometry, rows, columns):
        y, x = np.mgrid[:rows, :columns].astype(float)
        place, normal = geometry.places(x, y)
        self.geometry = geometry
        self.direction = place / np.linalg.norm(place, axis=-1, keepdims=True)
        self.q = geometry.q(place)
        self.cos_incidence = np.abs(self.direction @ normal)
        a, b, c, d = (geometry.places(x + i / 2, y + j / 2)[0] for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1)))
        self.solid_angle = triangle_solid_angle(a, b, c) + triangle_solid_angle(a, c, d)
        at, weight = GAUSS_3
        self.inside = [
            (wi * wj / 4, geometry.q(geometry.places(x + i / 2, y + j / 2)[0]))
            for i, wi in zip(at, weight)
            for j, wj in zip(at, weight)
        ]

    def mean(self, curve):
        """A curve of q averaged over the area of each pixel."""
        return sum(w * curve(q) for w, q in self.inside)

    def polarisation(self, share, plane_deg):
        """What a dipole radiates towards a pixel: 1 - (n . e)^2, for a share with the field e in the plane."""
        out = 0.0
        for part, angle in ((share, plane_deg), (1 - share, plane_deg + 90)):
            field = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle)), 0.0])
            out = out + part * (1 - (self.direction @ field) ** 2)
        return out

    def along(self, mu_length):
        """What a layer across the beam lets through on the oblique way."""
        return np.exp(-mu_length / self.direction[..., 2])

    def caught(self, mu_thickness):
        """Share of the photons that a sensor stops on the way through it."""
        return 1 - np.exp(-mu_thickness / self.cos_incidence)


@dataclass(frozen=True)
class Scattered:
    """What a sample does: transmissions of contents and walls, and by direction (rows, columns) the path weight (mm) of
    what the contents scatter and the weights of what the walls scatter, with contents and without."""

    contents: float
    walls: float
    path_mm: float
    sample: np.ndarray
    walls_full: np.ndarray
    walls_empty: np.ndarray


def through_layer(mu, thickness, cos_in, cos_out):
    """Mean over the depth of a layer of the attenuation in and out."""
    at, weight = GAUSS_16
    depth = thickness * (1 + at) / 2
    ways = np.exp(-mu * (depth / cos_in + np.multiply.outer(1 / cos_out, thickness - depth)))
    return ways @ weight / 2


def plate(view, *, mu, thickness, rotation_deg=0.0, wall_mu=0.0, wall=0.0):
    """A plate between two equal walls, its normal turned by `rotation_deg` about the vertical axis."""
    turn = np.radians(rotation_deg)
    cos_in = np.cos(turn)
    cos_out = view.direction @ np.array([np.sin(turn), 0.0, np.cos(turn)])
    wall_in = np.exp(-wall_mu * wall / cos_in)
    wall_out = np.exp(-wall_mu * wall / cos_out)
    own = through_layer(wall_mu, wall, cos_in, cos_out)
    first, second = 0.5 * own * wall_out, 0.5 * own * wall_in
    contents = np.exp(-mu * thickness / cos_in)
    path = thickness / cos_in
    return Scattered(
        contents=contents,
        walls=wall_in**2,
        path_mm=path,
        sample=wall_in * path * through_layer(mu, thickness, cos_in, cos_out) * wall_out,
        walls_full=first * np.exp(-mu * thickness / cos_out) + second * contents,
        walls_empty=first + second,
    )


def capillary(view, *, mu, diameter, beam_width, offset=0.0, axis="vertical", walls=1.0, points=60):
    """A cylinder of contents under an evenly lit beam, by rays from a grid of points inside it.

    The walls are taken as thin: they attenuate everything by `walls`, and scatter from where the beam enters and leaves
    the contents. A grid of 60 x 60 places; directions on a lattice of the detector, a spline between them.
    """
    radius = diameter / 2
    x = offset + beam_width * ((np.arange(points) + 0.5) / points - 0.5)
    chord = 2 * np.sqrt(np.clip(radius**2 - x**2, 0, None))
    s = (np.arange(points) + 0.5) / points
    px, pz = np.broadcast_arrays(x[:, None], chord[:, None] * (s - 0.5))
    entered = chord[:, None] * s
    rows, columns = view.q.shape
    at_row = np.unique(np.linspace(0, rows - 1, 13).astype(int))
    at_column = np.unique(np.linspace(0, columns - 1, 13).astype(int))
    sample, first = (np.empty((at_row.size, at_column.size)) for _ in range(2))
    for i, r in enumerate(at_row):
        for j, c in enumerate(at_column):
            nx, ny, nz = view.direction[r, c]
            across = nx if axis == "vertical" else ny
            plane2 = across**2 + nz**2

            def out(x, z, across=across, nz=nz, plane2=plane2):
                along = x * across + z * nz
                inside = np.clip(radius**2 - x**2 - z**2, 0, None)
                return (-along + np.sqrt(along**2 + plane2 * inside)) / plane2

            sample[i, j] = np.mean(chord * np.exp(-mu * (entered + out(px, pz))).mean(axis=1))
            lit = np.where(chord > 0, np.exp(-mu * out(x, -chord / 2)), 1.0)
            first[i, j] = np.mean(lit)

    def everywhere(values):
        return RectBivariateSpline(at_row, at_column, values)(np.arange(rows), np.arange(columns))

    contents = np.mean(np.exp(-mu * chord))
    return Scattered(
        contents=contents,
        walls=walls,
        path_mm=np.mean(chord * np.exp(-mu * chord)) / contents,
        sample=walls * everywhere(sample),
        walls_full=walls * 0.5 * (everywhere(first) + contents),
        walls_empty=np.full(view.q.shape, walls),
    )


def survivors(pixel, time, dead_time_s, paralysable):
    """Which arrivals are counted; arrivals sorted by pixel and time. A dead counter ignores what comes; a paralysable
    one is dead anew after each of them."""
    gap_open = np.ones(time.size, bool)
    gap_open[1:] = (pixel[1:] != pixel[:-1]) | (np.diff(time) >= dead_time_s)
    if paralysable or time.size == 0:
        return gap_open
    # After a gap of a dead time the counter is live for certain; from there on event by event, all trains abreast.
    start = np.flatnonzero(gap_open)
    length = np.diff(np.append(start, time.size))
    last = time[start].copy()
    kept = gap_open.copy()
    trains = np.flatnonzero(length > 1)
    step = 1
    while trains.size:
        event = start[trains] + step
        live = time[event] - last[trains] >= dead_time_s
        kept[event[live]] = True
        last[trains[live]] = time[event[live]]
        step += 1
        trains = trains[length[trains] > step]
    return kept


class Expectation:
    """In the place of a random generator: every draw is its mean, so that frames are what would be counted on average."""

    def standard_normal(self, shape=()):
        return np.zeros(shape)[()]

    def uniform(self, low, high, shape=()):
        return np.full(shape, (low + high) / 2)[()]

    def random(self, shape=()):
        return self.uniform(0.0, 1.0, shape)

    def poisson(self, mean):
        return np.asarray(mean, float)


def count(rate, exposure_s, rng, *, dead_time_s=0.0, paralysable=False, by_events_above=2e-3):
    """Counts of one exposure (rows, columns). Pixels with more than `by_events_above` arrivals a dead time have their
    arrival times drawn; below it arrivals are thinned by the chance to find the counter live, right in the mean, and in
    the variance to the same 2e-3 of itself. With Expectation the mean counts."""
    load = rate * dead_time_s
    live = np.exp(-load) if paralysable else 1 / (1 + load)
    counts = rng.poisson(rate * exposure_s * live).astype(float)
    if isinstance(rng, Expectation):
        return counts
    busy = np.flatnonzero(load.ravel() > by_events_above)
    arrivals = rng.poisson(rate.ravel()[busy] * exposure_s)
    batches = np.split(np.arange(busy.size), np.flatnonzero(np.diff(np.cumsum(arrivals) // 1_000_000)) + 1)
    for batch in batches:
        # Gaps between arrivals are exponential; given how many there are, the one after the last fills the exposure.
        owner = np.repeat(np.arange(batch.size), arrivals[batch] + 1)
        end = np.cumsum(arrivals[batch] + 1)
        since = np.cumsum(rng.standard_exponential(owner.size))
        before = np.append(0.0, since[end[:-1] - 1])
        time = (since - before[owner]) * (exposure_s / (since[end - 1] - before))[owner]
        arrived = np.ones(owner.size, bool)
        arrived[end - 1] = False
        owner, time = owner[arrived], time[arrived]
        kept = survivors(owner, time, dead_time_s, paralysable)
        counts.ravel()[busy[batch]] = np.bincount(owner[kept], minlength=batch.size)
    return counts
