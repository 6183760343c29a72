# SPDX-License-Identifier: GPL-3.0-or-later
"""Reduction against the outside: a certified table, closed forms, NumPy and SciPy, and a real ageing series."""

import hashlib

import h5py
import numpy as np
import pytest
from scipy import stats

from sievelight import reduce
from sievelight._core import DetectorGeometry, Frame, pixel_map, recorded_rate, true_rate


def scene(rows=195, columns=260):
    geometry = DetectorGeometry(
        wavelength_nm=0.154187,
        distance_mm=300.0,
        beam_center_x_px=40.2,
        beam_center_y_px=90.7,
        pixel_size_x_mm=0.172,
        pixel_size_y_mm=0.172,
        pitch_deg=6.0,
        yaw_deg=-4.0,
    )
    return pixel_map(geometry, rows, columns)


# Source: numpy.histogram and scipy.stats.binned_statistic, general-purpose libraries. Sums of up to 3000 doubles in
# another order: 1e-12.
def test_averages_are_those_of_numpy_and_scipy():
    view = scene()
    rng = np.random.default_rng(3)
    q, h = view.q_per_nm.ravel(), (view.solid_angle_sr * (1 + view.cos_two_theta**2) / 2).ravel()
    counts = rng.poisson(40.0 / (1 + q)).astype(float)
    dark = rng.poisson(6.0, q.size).astype(float)
    mask = (q < 0.15) | (rng.random(q.size) < 0.05)
    shape = view.q_per_nm.shape
    edges = reduce.make_bins(view, mask=mask.reshape(shape), bins=150)
    got = reduce.average(
        Frame(counts.reshape(shape), exposure_s=20.0),
        map=view,
        edges_per_nm=edges,
        mask=mask.reshape(shape),
        dark=Frame(dark.reshape(shape), exposure_s=60.0),
    )
    keep = ~mask

    def total(weights):
        return np.histogram(q[keep], edges, weights=weights[keep])[0]

    pixels = total(np.ones(q.size))
    filled = pixels > 0
    assert list(np.flatnonzero(~filled)) == got.empty_bins
    weight = 20.0 * total(h)[filled]
    assert np.array_equal(got.pixels, pixels[filled])
    assert np.array_equal(got.counts, total(counts)[filled])
    assert np.allclose(got.normalisation, weight, rtol=1e-12, atol=0)
    assert np.allclose(got.curve.q_per_nm, (total(h * q) / total(h).clip(1e-300))[filled], rtol=1e-12, atol=0)
    signal = (total(counts) - total(dark) / 3)[filled] / weight
    assert np.allclose(got.curve.intensity, signal, rtol=0, atol=1e-12 * np.abs(signal).max())
    n, n_dark = total(counts)[filled], total(dark)[filled]
    many = (n >= 10) & (n_dark >= 10)  # below, the variance is N + 1 by the rule
    variance = (n + n_dark / 9) / weight**2
    claimed = got.curve.private_u**2 + got.curve.causes["dark counts: dark"].u ** 2
    assert many.sum() > 100
    assert np.allclose(claimed[many], variance[many], rtol=1e-12, atol=0)
    mean_q = stats.binned_statistic(q[keep], q[keep], "mean", edges).statistic
    table = reduce.Averager(view, edges_per_nm=edges, mask=mask.reshape(shape)).table
    assert np.allclose(table.mean_q_per_nm[filled], mean_q[filled], rtol=1e-12)


# Source: central limit of Pearson's chi squared: its mean over bins is 1 with sd sqrt(2/pixels).
def test_scatter_of_real_poisson_pixels_is_that_of_their_counts():
    view = scene()
    rng = np.random.default_rng(4)
    level = 30 * view.solid_angle_sr * (1 + view.cos_two_theta**2) / 2 / view.solid_angle_sr.mean()
    got = reduce.average(
        Frame(rng.poisson(level).astype(float), exposure_s=1.0), map=view, edges_per_nm=reduce.make_bins(view, bins=60)
    )
    many = got.pixels > 200
    z = (got.scatter_ratio[many] - 1) * np.sqrt(got.pixels[many] / 2)
    assert abs(z.mean()) < 4 / np.sqrt(many.sum())
    assert 0.5 < z.std() < 1.5


# Source: Poisson distribution (scipy.stats). The mean of pixels weighted by 1/N converges to 1/E[1/max(N, 1)], which is
# low by 11 % at 10 counts a pixel; sum over sum is not low at any count.
@pytest.mark.parametrize("per_pixel", [0.1, 1.0, 10.0])
def test_sums_are_unbiased_where_weighting_by_counts_is_not(per_pixel):
    view = scene(60, 70)
    rng = np.random.default_rng(5)
    weight = view.solid_angle_sr * (1 + view.cos_two_theta**2) / 2
    level = per_pixel / weight.mean()
    averager = reduce.Averager(view, edges_per_nm=reduce.make_bins(view, bins=1))
    ours, theirs = [], []
    for _ in range(50):
        counts = rng.poisson(level * weight).astype(float)
        ours.append(averager.average(Frame(counts, exposure_s=1.0)).curve.intensity[0] / level)
        variance = np.maximum(counts, 1) / weight**2
        theirs.append(np.sum(counts / weight / variance) / np.sum(1 / variance) / level)
    sd = 1 / np.sqrt(per_pixel * weight.size * 50)
    assert np.mean(ours) == pytest.approx(1.0, abs=4 * sd)
    n = np.arange(200)
    p = stats.poisson.pmf(n, per_pixel)
    expected = np.sum(p * n / np.maximum(n, 1)) / np.sum(p / np.maximum(n, 1)) / per_pixel
    # Besides chance: the pixels' solid angles vary by a few percent, so the closed form holds to 1 %.
    assert np.mean(theirs) == pytest.approx(expected, rel=0.01 + 4 * sd)
    assert expected < 0.96


# Source: Poisson distribution (scipy.stats), brute force: pixels are drawn, averaged, and the bins counted. Bins expect
# from `counts` to twice as many (whole numbers make the share of any one mean swing by 7 %). Bias: four standard
# deviations of the mean of all bins, 0.6 % at one count. Coverage of S +- u: that of the exact distribution with the
# variance N, or N + 1 below ten counts; from five counts on it is 68 % to within 3 %, below it errs on the safe side.
@pytest.mark.parametrize("counts", [0.1, 1.0, 5.0, 10.0, 30.0, 100.0])
def test_bias_and_coverage_at_few_counts(counts, record_testsuite_property):
    view = scene(60, 70)
    rng = np.random.default_rng(round(10 * counts))
    weight = view.solid_angle_sr * (1 + view.cos_two_theta**2) / 2
    edges = reduce.make_bins(view, bins=40, spacing="linear")
    averager = reduce.Averager(view, edges_per_nm=edges)
    index = averager.table.index
    sums = averager.average(Frame(weight, exposure_s=1.0))
    point = np.full(40, -1)
    point[sums.bin] = np.arange(len(sums.bin))
    mean = counts * (1 + np.arange(len(sums.bin)) / len(sums.bin))
    truth = mean / sums.normalisation
    level = np.where(index >= 0, truth[point[index]], 0.0)
    draws = 500
    ratio, inside = np.zeros(len(mean)), 0
    for _ in range(draws):
        curve = averager.average(Frame(rng.poisson(level * weight).astype(float), exposure_s=1.0)).curve
        ratio += curve.intensity / truth / draws
        inside += np.count_nonzero(np.abs(curve.intensity - truth) <= curve.private_u)
    bias = np.average(ratio, weights=mean) - 1
    share = inside / (draws * len(mean))
    record_testsuite_property(f"bias at {counts} counts", bias)
    record_testsuite_property(f"coverage at {counts} counts", share)
    print(f"{counts:6g} counts: bias {100 * bias:+.2f} %, coverage {100 * share:.1f} %")
    assert abs(bias) < 4 / np.sqrt(draws * mean.sum())
    n = np.arange(1000)
    covers = np.abs(n - mean[:, None]) <= np.sqrt(n + (n < 10))
    exact = np.mean(np.sum(stats.poisson.pmf(n, mean[:, None]) * covers, axis=1))
    assert share == pytest.approx(exact, abs=4 * np.sqrt(0.25 / (draws * len(mean))))
    assert 0.65 < share < 0.72 if counts >= 5 else share > 0.65


# Source: closed forms for a flat detector: cos^3 2theta, evaluated with 30 digits.
def test_solid_angle_closed_form():
    for r, distance, cosine3 in ((50, 500, 0.985185337), (100, 500, 0.942866034), (85, 300, 0.890629009)):
        geometry = DetectorGeometry(
            wavelength_nm=0.154,
            distance_mm=distance,
            beam_center_x_px=0.0,
            beam_center_y_px=0.0,
            pixel_size_x_mm=r,
            pixel_size_y_mm=1.0,
        )
        view = pixel_map(geometry, 1, 2)
        flat = Frame(view.solid_angle_sr * 1e6, exposure_s=1.0)
        got = reduce.average(flat, map=view, edges_per_nm=[0.1, 100.0], off=["polarisation"])
        assert got.curve.intensity[0] == pytest.approx(1e6, rel=1e-12)
        assert got.normalisation[0] / (r / distance**2) == pytest.approx(cosine3, abs=1e-9)


# Source: Knoll, Radiation Detection and Measurement, both dead-time models; closed forms.
def test_dead_time_closed_forms():
    assert true_rate(5e5, 120e-9, "non-paralyzable") == pytest.approx(531914.894, abs=1e-3)
    assert true_rate(5e5, 120e-9, "paralyzable") == pytest.approx(533026.578, abs=1e-3)
    assert recorded_rate(1e6, 100e-9, "paralyzable") == pytest.approx(904837.418, abs=1e-3)


# Source: depth integral of a plate normal to the beam, closed form.
def test_plate_closed_forms():
    values = reduce.plate_self_absorption(np.exp(-1), [5, 10, 20])
    assert np.allclose(values, [0.998092511, 0.992326205, 0.968586704], rtol=0, atol=1e-9)
    assert np.allclose(
        reduce.plate_self_absorption(0.3, [5, 10, 20]), [0.997704031, 0.990770618, 0.962341990], atol=1e-9
    )


# Source: NIST SRM 3600 certificate, Table 1. The checksum is that of the table (q in 1/Angstrom, I, u, U with k = 2.4231)
# as little-endian doubles, recorded with an independent copy.
def test_srm3600_is_the_certified_table():
    s = reduce.srm3600()
    table = np.column_stack(
        [
            np.round(s.q_per_nm / 10, 9),
            s.intensity_per_cm,
            s.standard_uncertainty_per_cm,
            s.expanded_uncertainty_per_cm,
        ]
    )
    digest = hashlib.sha256(np.ascontiguousarray(table, "<f8").tobytes()).hexdigest()
    assert digest == "b128fbbd04c2a66fd9aa04c90a7f238f45092f6253d4960dc12b560e5b0ef471"
    q, intensity = s.q_per_nm / 10, s.intensity_per_cm
    assert np.trapezoid(q**2 * intensity, q) == pytest.approx(0.0559397, abs=5e-8)
    assert np.allclose(s.expanded_uncertainty_per_cm / intensity, 0.0625, rtol=1e-4)
    assert np.allclose(s.standard_uncertainty_per_cm / intensity, 0.025795, rtol=1e-4)


@pytest.fixture(scope="module")
def ageing(reference_data):
    """Ten frames of a nickel alloy ageing at 775 C and its empty heater (NeXus International Advisory Committee, example
    data): 30 s each, monitor per frame; neither the transmission nor the heater's monitor are given."""
    path = reference_data / "ageing-series-frames.h5"
    if not path.exists():
        pytest.skip(f"no {path.name} in the reference data")
    with h5py.File(path) as file:
        frames = file["entry/data/frames"][()].astype(float)
        heater = file["entry/instrument/detector/blank"][()].astype(float)
        monitor = file["entry/instrument/control/integral"][()]
    geometry = DetectorGeometry(
        wavelength_nm=0.059040224,
        distance_mm=540.8,
        beam_center_x_px=-5.65,
        beam_center_y_px=99.95,
        pixel_size_x_mm=0.172,
        pixel_size_y_mm=0.172,
    )
    view = pixel_map(geometry, *heater.shape)
    mask = np.zeros(heater.shape, bool)
    mask[:, :6] = True  # in the beamstop's shadow
    mask[98:110, 384:393] = True  # a crystal's reflection
    mask[58, 112] = True  # a hot pixel
    return (
        [Frame(f, exposure_s=30.0, monitor=m) for f, m in zip(frames, monitor)],
        Frame(heater, exposure_s=30.0),
        view,
        mask,
    )


def test_ageing_series_has_the_recorded_counts(ageing):
    frames, _, view, mask = ageing
    # Mean counts a pixel in 0.37 <= q < 0.6 1/nm per 10^6 of monitor, measured apart from this program (README of the
    # data); it prints whole numbers.
    recorded = [1686, 2100, 2242, 2292, 2326, 2347, 2357, 2371, 2372, 2376]
    averager = reduce.Averager(view, edges_per_nm=[0.37, 0.6], mask=mask, off=["solid angle", "polarisation"])
    found = [averager.average(f, normalise_by="monitor") for f in frames]
    means = [a.curve.intensity[0] * 1e6 for a in found]
    assert np.allclose(means, recorded, atol=1.0)
    sds = [a.curve.private_u[0] * 1e6 for a in found]
    for i in range(9):  # monotonic: never falls by more than two standard errors
        assert means[i + 1] - means[i] > -2 * np.hypot(sds[i], sds[i + 1])
    assert means[-1] - means[0] > 20 * np.hypot(sds[0], sds[-1])


def test_ageing_series_against_its_heater(ageing):
    frames, heater, view, mask = ageing
    edges = reduce.make_bins(view, mask=mask, bins=120)
    averager = reduce.Averager(view, edges_per_nm=edges, mask=mask)
    blank = averager.average(heater, name="heater")
    low = slice(*np.searchsorted(edges, [0.37, 0.6]))
    strength, u, factors = [], [], []
    for i, frame in enumerate(frames):
        averaged = averager.average(frame, name=f"frame {i}")
        fit = reduce.fit_background_factor(averaged, blank, 8.0, 12.0)
        assert "not measured" in fit.note
        assert "their shapes differ there" in fit.note  # the alloy scatters there too, and u says so
        assert 0.003 < fit.u < 0.02
        factors.append(fit.factor.value)
        net = reduce.absolute_curve(averaged, background=blank, background_scale=fit)
        assert "counts: heater" in net.curve.causes
        points = [j for j, b in enumerate(averaged.bin) if low.start <= b < low.stop]
        width = 1 / len(points)
        scale = 1 / frame.monitor
        strength.append(net.curve.intensity[points].mean() * scale)
        u.append(np.sqrt(np.sum(net.curve.private_u[points] ** 2)) * width * scale)
    # README of the data: sample/heater is 0.82 at 8-12 1/nm (first frames; later ones follow the monitor).
    assert factors[0] == pytest.approx(0.82, abs=0.01)
    per_monitor = np.array(factors) / [f.monitor for f in frames]
    assert np.ptp(per_monitor) / per_monitor.mean() < 0.01  # the heater's scattering per photon did not change
    for i in range(9):
        assert strength[i + 1] - strength[i] > -2 * np.hypot(u[i], u[i + 1])
    assert strength[-1] > 1.5 * strength[0]
