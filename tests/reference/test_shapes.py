# SPDX-License-Identifier: GPL-3.0-or-later
"""Shapes, interference and the slit in the kernel against SciPy's quadrature and special functions.

The formulas are those of the textbooks (A. Guinier, G. Fournet 1955, Small-Angle Scattering of X-rays, ch. 2, from
memory), written here in the cosine between axis and q and integrated adaptively; the core's rules are its own.
"""

import itertools

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1, spherical_jn

import sievelight as sl
from sievelight import distribution
from sievelight.distribution import HardSpheres, hard_sphere_structure_factor, make_kernel, particle_shape
from sievelight.reduce import slit_profile

CONTRAST = 1.864e11


def sphere_amplitude(x):
    return 3 * spherical_jn(1, x) / x


def average(f, turns):
    """The integral over [0, 1], cut into stretches of a few oscillations, each to 1e-13."""
    cuts = np.linspace(0, 1, 2 + int(turns / 10))
    return sum(quad(f, a, b, epsabs=0, epsrel=1e-12)[0] for a, b in itertools.pairwise(cuts))


@pytest.mark.parametrize("axis_ratio", [0.2, 0.7, 1.5, 6.0])
@pytest.mark.parametrize("q", [0.02, 0.4, 3.0, 40.0])
def test_spheroids_are_averaged_over_orientation(axis_ratio, q):
    d = 10.0  # q D / 2 up to 200
    equator = d / 2 * axis_ratio ** (-1 / 3)

    def seen(u):
        return sphere_amplitude(q * equator * np.sqrt(1 + (axis_ratio**2 - 1) * u * u)) ** 2

    expected = average(seen, 2 * q * equator * max(axis_ratio, 1.0))
    got = particle_shape("spheroid", axis_ratio=axis_ratio).form_factor(q, [d])[0]
    assert got == pytest.approx(expected, rel=1e-10)


def cylinder(q, radius, length):
    def seen(u):
        x, z = q * radius * np.sqrt(1 - u * u), q * length * u / 2
        return (np.sinc(z / np.pi) * (2 * j1(x) / x if x > 1e-8 else 1.0)) ** 2

    return average(seen, q * (2 * radius + length))


@pytest.mark.parametrize("q", [0.02, 0.4, 3.0, 20.0])
def test_cylinders_and_lamellae_are_averaged_over_orientation(q):
    # q R up to 100, q L up to 2000. What many sizes share is computed once, to 1e-16 of the forward scattering.
    assert particle_shape("cylinder", length_ratio=4.0).form_factor(q, [10.0])[0] == pytest.approx(
        cylinder(q, 5.0, 40.0), rel=1e-10
    )
    sizes = [2.0, 10.0]
    rods = particle_shape("cylinder", length_nm=100.0).form_factor(q, sizes)
    sheets = particle_shape("lamella", width_nm=80.0).form_factor(q, sizes)
    for d, rod, sheet in zip(sizes, rods, sheets):
        assert rod == pytest.approx(cylinder(q, d / 2, 100.0), rel=2e-10)
        assert sheet == pytest.approx(cylinder(q, 40.0, d), rel=2e-10)


def test_hard_spheres_are_the_transform_of_the_direct_correlation_function():
    """1/S = 1 - n c(q) with the Percus-Yevick c(r) = -(alpha + beta x + gamma x^3) inside the diameter, integrated."""
    for phi in (0.05, 0.2, 0.45):
        alpha = (1 + 2 * phi) ** 2 / (1 - phi) ** 4
        beta = -6 * phi * (1 + phi / 2) ** 2 / (1 - phi) ** 4
        for a in (0.1, 1.9, 2.1, 7.0, 31.0):

            def c(x, phi=phi, alpha=alpha, beta=beta, a=a):
                return (alpha + beta * x + phi * alpha / 2 * x**3) * x * x * np.sinc(a * x / np.pi)

            inverse = 1 + 24 * phi * quad(c, 0, 1, epsabs=0, epsrel=1e-12, limit=400)[0]
            assert hard_sphere_structure_factor(a, phi) == pytest.approx(1 / inverse, rel=1e-10)


def curve_of(q, intensity, u, **more):
    return sl.Curve(q_per_nm=q, intensity=intensity, private_u=u, unit="1/cm", **more)


def line_average(q, f, half_top, half_base):
    """J(q) over a normalised trapezoid, by SciPy."""
    norm = half_top + half_base
    flat = quad(lambda x: f(np.hypot(q, x)), 0, half_top, epsabs=0, epsrel=1e-10, limit=500)[0]
    ramp = quad(
        lambda x: (half_base - x) / (half_base - half_top) * f(np.hypot(q, x)),
        half_top, half_base, epsabs=0, epsrel=1e-10, limit=500,
    )[0]  # fmt: skip
    return 2 * (flat + ramp) / norm


def test_the_kernel_of_spheres_is_smeared_by_a_long_trapezoid():
    q = np.array([0.08, 0.2, 0.5, 1.1, 1.9, *np.linspace(2.0, 2.2, 8)])
    c = curve_of(q, np.ones(13), np.ones(13))
    kernel = make_kernel(c, slit=slit_profile(half_top_mm=0.7, half_base_mm=1.5))  # without a geometry: in 1/nm
    d, step = np.asarray(kernel.grid.diameter_nm), kernel.grid.step
    x, w = np.polynomial.legendre.leggauss(24)
    for j in (20, d.size // 2, d.size - 12):
        t = np.concatenate([(x - 1) / 2, (x + 1) / 2])  # the two cells of a hat, in units of the step
        size = d[j] * np.exp(t * step)
        weight = np.concatenate([w, w]) / 2 * step * (1 - np.abs(t)) * np.pi / 6 * size**3

        def hat(at, size=size, weight=weight):
            return weight @ sphere_amplitude(at * size / 2) ** 2

        for i in (0, 2, 4):
            expected = line_average(q[i], hat, 0.7, 1.5)
            assert kernel.volume_nm3[i, j] == pytest.approx(expected, rel=1e-6), (j, i)


def smeared_log_normal(seed, median_nm=12.0, sigma=0.2, phi=0.05, noise=0.02):
    """A log-normal of spheres through a trapezoid and with a flat background, on a plain fine sum."""
    edges = np.geomspace(0.08, 2.0, 101)
    q = np.sqrt(edges[1:] * edges[:-1])
    z = np.linspace(-5, 5, 200)
    d, weight = median_nm * np.exp(sigma * z), np.exp(-0.5 * z * z)
    fine = np.linspace(0.05, 3.0, 6000)
    point = (
        phi
        * CONTRAST**2
        * 1e-21
        * ((sphere_amplitude(np.outer(fine, d / 2)) ** 2 * np.pi / 6 * d**3) @ weight / weight.sum())
    )
    along = np.linspace(-1.5, 1.5, 1201)
    share = np.interp(np.abs(along), [0.7, 1.5], [1.0, 0.0])
    looks = np.linspace(0, 1, 6)[None, :-1] + 0.1
    at = edges[:-1, None] + np.diff(edges)[:, None] * looks
    seen = np.stack([np.interp(np.hypot(at[:, [k]], along), fine, point) @ share / share.sum() for k in range(5)])
    intensity = seen.mean(axis=0) + 0.02
    u = noise * intensity
    noisy = intensity + u * np.random.default_rng(seed).standard_normal(q.size)
    length = np.full(q.size, np.sqrt((0.7**2 + 1.5**2) / 6))
    return curve_of(
        q, noisy, u, q_low_per_nm=edges[:-1], q_high_per_nm=edges[1:],
        slit_length_per_nm=length, slit_width_per_nm=np.zeros(q.size),
    )  # fmt: skip


def test_sizes_are_found_behind_a_slit():
    """Four draws of the noise: a 95 % band misses two or more of them in 1.4 % of all quadruples."""
    slit = slit_profile(half_top_mm=0.7, half_base_mm=1.5)
    first = smeared_log_normal(0)
    kernel = make_kernel(first, slit=slit)
    results = [sl.invert(smeared_log_normal(k), kernel=kernel, contrast_per_cm2=CONTRAST) for k in range(4)]
    inside = [r.x50_nm.band95.low < 12.0 < r.x50_nm.band95.high for r in results]
    assert sum(inside) >= 3, [(r.x50_nm.value, r.x50_nm.u) for r in results]
    assert all(abs(r.phi_one_minus_phi.value - 0.05) < 4 * r.phi_one_minus_phi.u for r in results)
    assert all(r.x50_nm.u < 0.04 * 12 for r in results)  # or the band would be too wide to miss
    assert "smeared" in " ".join(results[0].notes)
    with pytest.raises(sl.InputError, match="slit"):
        sl.invert(first)


def crowded(shape_form, volume_fraction, seed=3):
    edges = np.geomspace(0.05, 1.8, 121)
    q = np.sqrt(edges[1:] * edges[:-1])
    z = np.linspace(-4, 4, 161)
    d, weight = 14.0 * np.exp(0.12 * z), np.exp(-0.5 * z * z)
    form = shape_form(q, d)
    s = hard_sphere_structure_factor(np.outer(q, d), volume_fraction)
    mean = volume_fraction * CONTRAST**2 * 1e-21 * ((form * s * np.pi / 6 * d**3) @ weight / weight.sum()) + 0.02
    u = 0.02 * mean
    noisy = mean + u * np.random.default_rng(seed).standard_normal(q.size)
    return curve_of(q, noisy, u, q_low_per_nm=edges[:-1], q_high_per_nm=edges[1:])


def test_interference_in_the_model_gives_the_size_and_the_volume_fraction():
    c = crowded(lambda q, d: sphere_amplitude(np.outer(q, d / 2)) ** 2, 0.2)
    with_it = sl.invert(c, contrast_per_cm2=CONTRAST, interaction=HardSpheres(0.2))
    without = sl.invert(c, contrast_per_cm2=CONTRAST)
    assert abs(with_it.x50_nm.value - 14.0) < 4 * with_it.x50_nm.u
    assert abs(with_it.volume_fraction.value - 0.2) < 4 * with_it.volume_fraction.u
    assert with_it.phi_one_minus_phi.value == pytest.approx(0.16, rel=0.05)
    # Ignored, it shows: the residuals of a narrow distribution do not fit dilute spheres.
    assert without.chi2_per_point > 2 * with_it.chi2_per_point
    assert "interference" in " ".join(with_it.notes)


def test_a_spheroid_read_as_what_it_is_has_its_size_and_surface():
    shape = particle_shape("spheroid", axis_ratio=2.0)
    edges = np.geomspace(0.08, 1.8, 111)
    q = np.sqrt(edges[1:] * edges[:-1])
    z = np.linspace(-4, 4, 121)
    d, weight = 12.0 * np.exp(0.2 * z), np.exp(-0.5 * z * z)
    form = np.stack([shape.form_factor(at, d) for at in q])
    mean = 0.05 * CONTRAST**2 * 1e-21 * ((form * np.pi / 6 * d**3) @ weight / weight.sum()) + 0.02
    u = 0.02 * mean
    c = curve_of(
        q, mean + u * np.random.default_rng(5).standard_normal(q.size), u,
        q_low_per_nm=edges[:-1], q_high_per_nm=edges[1:],
    )  # fmt: skip
    result = sl.invert(c, contrast_per_cm2=CONTRAST, shape="spheroid", axis_ratio=2.0)
    assert abs(result.x50_nm.value - 12.0) < 4 * result.x50_nm.u
    # Surface of a spheroid of ratio 2 over the sphere of equal volume, from 2 pi a^2 (1 + c/(a e) asin e).
    e = np.sqrt(0.75)
    factor = 0.5 * 2 ** (-2 / 3) * (1 + 2 / e * np.arcsin(e))
    expected = 6 * factor * 0.05 * np.exp(0.2**2 / 2) / 12.0 * 1000
    surface = result.specific_surface_m2_per_cm3
    assert abs(surface.value - expected) < 4 * surface.u
    assert result.shape == "spheroid of axis ratio 2" and "equal volume" in result.notes[0]
    assert not result.warnings


def test_the_exponent_of_a_rough_surface_is_used():
    edges = np.geomspace(0.05, 1.8, 111)
    q = np.sqrt(edges[1:] * edges[:-1])
    spheres = 0.05 * CONTRAST**2 * 1e-21 * sphere_amplitude(q * 6) ** 2 * np.pi / 6 * 12**3
    mean = spheres + 0.004 * q**-3.3 + 0.02
    c = curve_of(q, mean, 0.01 * mean, q_low_per_nm=edges[:-1], q_high_per_nm=edges[1:])
    result = sl.invert(c, contrast_per_cm2=CONTRAST, power_law=True, power_exponent=3.3)
    assert abs(result.power_law_k.value - 0.004) < 4 * result.power_law_k.u + 2e-4
    assert result.power_exponent == 3.3


def test_shapes_say_what_they_need():
    with pytest.raises(sl.InputError, match="axis_ratio"):
        particle_shape("spheroid")
    with pytest.raises(sl.InputError, match="sphere"):
        particle_shape("cube")
    with pytest.raises(sl.InputError, match="nothing more"):
        particle_shape("sphere", axis_ratio=2.0)
    with pytest.raises(sl.InputError, match="solid"):
        HardSpheres(0.7)
    assert isinstance(particle_shape("lamella", width_nm=300.0), distribution.Shape)
