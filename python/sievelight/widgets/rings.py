# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a calibrant's rings cross the detector, as lines to draw; and the distance that puts a ring through a place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sievelight._core import Calibrant, DetectorGeometry
from sievelight.errors import input_error

Line = NDArray[np.float64]


def ring_lines(
    geometry: DetectorGeometry, calibrant: Calibrant, shape: tuple[int, int], *, points: int = 181
) -> list[Line]:
    """Outlines (points, 2) of the rings in view on a detector of shape (rows, columns): columns and rows in pixels.

    A ray at the angle 2θ, sin θ = λ/(2d), meets the detector's plane; the plane is the geometry's own, tilt and all. Parts
    that miss the plane are NaN. Source: W. L. Bragg, Proc. Camb. Phil. Soc. 17 (1913) 43, and the ray's plane, derived.
    """
    origin = geometry.position_mm(0, 0)
    along_x, along_y = geometry.position_mm(1, 0) - origin, geometry.position_mm(0, 1) - origin
    normal = np.cross(along_x, along_y)
    turn = np.linspace(0, 2 * np.pi, points)
    rows, columns = shape
    found = []
    for d_nm in calibrant.d_nm:
        sine = geometry.wavelength_nm / (2 * d_nm)
        if sine >= np.sin(np.pi / 4):  # scattered sideways or back
            break
        two_theta = 2 * np.arcsin(sine)
        rays = np.column_stack(
            (np.sin(two_theta) * np.cos(turn), np.sin(two_theta) * np.sin(turn), np.full(points, np.cos(two_theta)))
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = (origin @ normal) / (rays @ normal)
        reach[~(reach > 0)] = np.nan
        place = rays * reach[:, None] - origin
        x, y = (place @ along_x) / (along_x @ along_x), (place @ along_y) / (along_y @ along_y)
        if np.any((x > -0.5) & (x < columns - 0.5) & (y > -0.5) & (y < rows - 0.5)):
            found.append(np.column_stack((x, y)))
    return found


def distance_through(geometry: DetectorGeometry, q_per_nm: float, place: tuple[float, float]) -> float:
    """The distance (mm) at which a place (column, row) sees `q_per_nm`, the rest of the geometry being as it is.

    Raises InputError for a place at the beam point, where every distance sees q = 0.
    """
    low, high = 1.0, 1e5
    if (
        not geometry.replace(distance_mm=high).q_per_nm(*place)
        < q_per_nm
        < geometry.replace(distance_mm=low).q_per_nm(*place)
    ):
        raise input_error(
            f"no distance between {low:g} and {high:g} mm puts that ring through column {place[0]:.0f}, row {place[1]:.0f}.",
            "Set the beam point first, then click on the ring, away from the beam.",
        )
    for _ in range(60):  # q falls with the distance
        middle = np.sqrt(low * high)
        if geometry.replace(distance_mm=middle).q_per_nm(*place) > q_per_nm:
            low = middle
        else:
            high = middle
    return float(np.sqrt(low * high))
