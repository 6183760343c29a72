# SPDX-License-Identifier: GPL-3.0-or-later
"""The simulator itself against closed forms, so that closure is not two equal errors."""

import numpy as np
import pytest
from scipy import integrate

from closure.physics import Geometry, View, capillary, count, plate, triangle_solid_angle

FLAT = Geometry(0.154, 40.0, 1.0, (20.0, 20.0))


# Source: renewal counters, G. F. Knoll, Radiation Detection and Measurement: m = n/(1 + n tau) and n exp(-n tau);
# variances of the counts of a long exposure m t/(1 + n tau)^2 and m t (1 - 2 n tau exp(-n tau)) (W. Feller, renewal
# theorem: variance of the gaps over the cube of their mean). Means to 4 standard errors, variances to 4 of theirs.
@pytest.mark.parametrize("load", [0.01, 0.2, 0.8])
@pytest.mark.parametrize("paralysable", [False, True])
def test_the_counter_loses_what_renewal_theory_says(load, paralysable):
    rate, exposure, draws = 1000.0, 1.0, 20000
    got = count(
        np.full(draws, rate), exposure, np.random.default_rng(3), dead_time_s=load / rate, paralysable=paralysable
    )
    mean = rate * (np.exp(-load) if paralysable else 1 / (1 + load))
    variance = mean * (1 - 2 * load * np.exp(-load) if paralysable else (1 + load) ** -2)
    # The counter is live when the exposure begins: at most one dead time's worth of events more.
    assert got.mean() == pytest.approx(mean, abs=4 * np.sqrt(variance / draws) + load**2)
    assert got.var() == pytest.approx(variance, rel=4 * np.sqrt(2 / draws) + load / 500)


# Source: solid angle of a rectangle a x b at distance d over its middle, 4 asin(ab / sqrt((a^2+4d^2)(b^2+4d^2))).
def test_pixels_fill_the_solid_angle_of_their_plate():
    view = View(FLAT, 41, 41)
    side = 41.0
    whole = 4 * np.arcsin(side**2 / (side**2 + 4 * 40.0**2))
    assert view.solid_angle.sum() == pytest.approx(whole, rel=1e-12)
    octant = triangle_solid_angle(*(np.eye(3)[[k]] for k in range(3)))
    assert octant[0] == pytest.approx(np.pi / 2)


# Source: a tilted plane seen from the origin subtends the same solid angle whatever pixels it is cut into; q from
# 4 pi/lambda sin(theta).
def test_tilt_turns_the_detector_about_the_beam():
    tilted = Geometry(0.154, 40.0, 1.0, (20.0, 20.0), (12.0, -7.0, 33.0))
    view = View(tilted, 41, 41)
    assert view.q[20, 20] == pytest.approx(0.0, abs=1e-9)
    a, b, c, d = (
        tilted.places(np.array(x), np.array(y))[0] for x, y in ((-0.5, -0.5), (40.5, -0.5), (40.5, 40.5), (-0.5, 40.5))
    )
    assert view.solid_angle.sum() == pytest.approx(triangle_solid_angle(a, b, c) + triangle_solid_angle(a, c, d))
    two_theta = np.arccos(view.direction[..., 2])
    assert np.allclose(view.q, 4 * np.pi / 0.154 * np.sin(two_theta / 2), atol=1e-6)


# Source: (1 + cos^2 2theta)/2 for an unpolarised beam; cos^2 2theta along the field, 1 across it.
def test_polarisation_in_the_plane_and_across_it():
    view = View(FLAT, 41, 41)
    cos2 = view.direction[..., 2] ** 2
    assert np.allclose(view.polarisation(0.5, 31.0), (1 + cos2) / 2)
    along = view.polarisation(1.0, 0.0)
    assert np.allclose(along[20], cos2[20]) and np.allclose(along[:, 20], 1.0)


# Source: forward through a plate all ways are equal: path exp(-mu d); at an angle the integral over the depth, by SciPy.
def test_a_turned_plate_is_its_depth_integral():
    view = View(FLAT, 41, 41)
    turn = np.radians(20.0)
    out = plate(view, mu=0.7, thickness=1.5, rotation_deg=20.0)
    path = 1.5 / np.cos(turn)
    assert out.contents == pytest.approx(np.exp(-0.7 * path))
    assert out.sample[20, 20] == pytest.approx(path * np.exp(-0.7 * path))
    n = view.direction[7, 38]
    leave = n @ [np.sin(turn), 0, np.cos(turn)]
    exact = integrate.quad(lambda z: np.exp(-0.7 * (z / np.cos(turn) + (1.5 - z) / leave)) / np.cos(turn), 0, 1.5)[0]
    assert out.sample[7, 38] == pytest.approx(exact, rel=1e-12)


# Source: random places in the lit cylinder, each ray followed to the rim by solving its quadratic; 4e5 of them give the
# mean to 1e-3, tested at four of it. A thin beam through the middle is a plate as thick as the diameter straight on.
@pytest.mark.parametrize("axis", ["vertical", "horizontal"])
def test_a_capillary_is_its_rays(axis):
    view = View(FLAT, 41, 41)
    mu, radius, width, offset = 1.1, 0.5, 0.7, 0.1
    got = capillary(view, mu=mu, diameter=2 * radius, beam_width=width, offset=offset, axis=axis)
    rng = np.random.default_rng(8)
    x, z = offset + width * (rng.random(400_000) - 0.5), radius * (2 * rng.random(400_000) - 1)
    inside = x**2 + z**2 < radius**2
    x, z = x[inside], z[inside]
    n = view.direction[5, 33]
    across = n[0] if axis == "vertical" else n[1]
    a, b, c = across**2 + n[2] ** 2, x * across + z * n[2], x**2 + z**2 - radius**2
    way = z + np.sqrt(radius**2 - x**2) + (-b + np.sqrt(b**2 - a * c)) / a
    mean = np.exp(-mu * way).sum() / inside.size * 2 * radius
    assert got.sample[5, 33] == pytest.approx(mean, rel=4e-3)
    thin = capillary(view, mu=mu, diameter=1.0, beam_width=1e-6, axis=axis)
    assert thin.path_mm == pytest.approx(1.0, rel=1e-9)
    assert thin.sample[20, 20] == pytest.approx(np.exp(-mu), rel=1e-6)
