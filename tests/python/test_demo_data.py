# SPDX-License-Identifier: GPL-3.0-or-later
"""The generator of the demonstration, checked by a small reduction of its own (NumPy, h5py, SciPy; no sievelight).

The frames must obey the equations from which the reducer is built, or judging the reducer by them means nothing.
"""

import csv
import hashlib
import importlib
import json
import sys
from functools import cached_property
from math import pi
from pathlib import Path

import numpy as np
import pytest

h5py = pytest.importorskip("h5py", reason="h5py writes and reads the demonstration frames")
from scipy import integrate, optimize, sparse, special, stats  # noqa: E402

try:
    import tomllib
except ImportError:  # Python 3.10
    import tomli as tomllib

DEMO = Path(__file__).resolve().parents[2] / "demo-data"
SLD = 18.6408e10  # silica of 2.20 g/cm3, 1/cm2
EDGES = np.geomspace(0.075, 2.0, 121)  # 1/nm


@pytest.fixture(scope="module")
def generator():
    sys.path.insert(0, str(DEMO))
    try:
        yield importlib.import_module("make_frames")
    finally:
        sys.path.remove(str(DEMO))


@pytest.fixture(scope="module")
def demo(generator, tmp_path_factory):
    out = tmp_path_factory.mktemp("demo")
    generator.main(["--out", str(out), "--quick", "--scale-exposure", "7.5"])
    return Study(out)


class Study:
    """The simulated folder, read and reduced with the true geometry, flux, thickness and transmission."""

    def __init__(self, folder):
        self.folder = folder
        self.truth = json.loads((folder / "truth.json").read_text())
        self.table = list(csv.DictReader((folder / "measurements.csv").open(newline="")))
        self.samples = [row["name"] for row in self.table if row["role"] == "sample"]
        i = self.truth["instrument"]
        self.q, self.h, self.path = pixel_geometry(i, i["distance_mm"], i["beam_x_px"], i["beam_y_px"])
        with h5py.File(folder / "frames/mask.h5") as file:
            self.drawn = file["entry/instrument/detector/pixel_mask"][()] != 0
        self.masked = self.drawn.copy()
        for pixels in self.truth["unflagged_row_column"].values():
            for row, column in pixels:
                self.masked[row, column] = True

    def read(self, name):
        """Exposures (n, rows, columns), exposure time each, the file's own mask."""
        with h5py.File(self.folder / f"frames/{name}.h5") as file:
            detector = file["entry/instrument/detector"]
            data = detector["data"][()]
            times = np.atleast_1d(detector["count_time"][()])
            mask = detector["pixel_mask"][()] != 0
        return data.reshape(-1, *data.shape[-2:]), times, mask

    def signal(self, name, q=None, h=None):
        """S = sum(N - dark) / sum(h) per bin and its variance, per photon and steradian."""
        q, h = (self.q, self.h) if q is None else (q, h)
        frames, times, mask = self.read(name)
        tau, flux = self.truth["instrument"]["dead_time_s"], self.truth["measurements"][name]["flux_per_s"]
        # Knoll: the true rate of a non-paralysable counter is m / (1 - m tau).
        counts = sum(f / (1.0 - f * tau / t) for f, t in zip(frames.astype(float), times))
        dark, dark_times, _ = self.read("dark")
        dark, ratio = np.nansum(dark.astype(float), axis=0), times.sum() / dark_times.sum()
        use = ~(self.masked | mask)
        total = [np.histogram(q[use], EDGES, weights=w[use])[0] for w in (counts, dark, h * flux * times.sum())]
        return (total[0] - ratio * total[1]) / total[2], (total[0] + ratio**2 * total[1]) / total[2] ** 2

    def bin_mean(self, per_pixel, mask):
        use = ~(self.masked | mask)
        weights = [np.histogram(self.q[use], EDGES, weights=w[use])[0] for w in (per_pixel * self.h, self.h)]
        return weights[0] / weights[1]

    def intensity(self, name, background, q=None, h=None):
        """dSigma/dOmega in 1/cm and its variance, bin by bin."""
        m, b = self.truth["measurements"][name], self.truth["measurements"][background]
        (s, var_s), (s0, var_0) = self.signal(name, q, h), self.signal(background, q, h)
        mask = self.read(name)[2]
        mu_d = -np.log(m["transmission_without_cell"])
        obliquity = mu_d * (self.path - 1.0)
        across = self.bin_mean(np.exp(-obliquity), mask)
        own = self.bin_mean((1.0 - np.exp(-obliquity - 1e-12)) / (obliquity + 1e-12), mask)
        scale = 10.0 / (m["thickness_mm"] * own)
        value = scale * (s / m["transmission"] - across * s0 / b["transmission"])
        return value, scale**2 * (var_s / m["transmission"] ** 2 + var_0 / b["transmission"] ** 2)

    def blurred(self, curve):
        """A true curve, seen through the beam spot and averaged over each bin's pixels."""
        return self.blur @ curve(self.fine)

    @cached_property
    def fine(self):
        # Straight lines over steps of 0.001 1/nm miss these curves by less than 1e-5 of themselves.
        return np.arange(5e-4, self.q.max() + 0.1, 1e-3)

    @cached_property
    def blur(self):
        """Matrix (bins, fine). The spot is a round Gaussian in the detector plane: the average of I(|q + (u, v)|) by
        Gauss-Hermite nodes; then the mean over the pixels of each bin (all wafers and the standard share a mask)."""
        i = self.truth["instrument"]
        # A pixel integrates over its area: the variance of a uniform density, width^2 / 12, adds to the spot's.
        sigma_mm = np.hypot(i["beam_fwhm_mm"] / np.sqrt(8 * np.log(2)), i["pixel_mm"] / np.sqrt(12))
        sigma_q = 2 * pi / i["wavelength_nm"] * sigma_mm / i["distance_mm"]
        node, weight = np.polynomial.hermite_e.hermegauss(15)
        u, v = np.meshgrid(sigma_q * node, sigma_q * node)
        weight = np.outer(weight, weight).ravel() / weight.sum() ** 2
        points = np.hypot(self.fine[:, None] + u.ravel(), v.ravel())
        spot = self._interpolation(np.arange(self.fine.size)[:, None], points, weight, self.fine.size)
        use = ~(self.masked | self.read(self.samples[0])[2])
        bins = np.digitize(self.q[use], EDGES) - 1
        inside = (bins >= 0) & (bins < EDGES.size - 1)
        bins, q, h = bins[inside], self.q[use][inside], self.h[use][inside]
        share = h / np.bincount(bins, h)[bins]
        return (self._interpolation(bins, q, share, EDGES.size - 1) @ spot).toarray()

    def _interpolation(self, row, q, weight, rows):
        """Sparse matrix whose product with a curve on `fine` sums weight * curve(q) per row."""
        at = np.clip((q - self.fine[0]) / 1e-3, 0, self.fine.size - 1.001)
        left = at.astype(int)
        row, weight = np.broadcast_to(row, q.shape).ravel(), np.broadcast_to(weight, q.shape).ravel()
        left, part = left.ravel(), (at - left).ravel()
        values = np.concatenate([weight * (1 - part), weight * part])
        places = (np.concatenate([row, row]), np.concatenate([left, left + 1]))
        return sparse.coo_matrix((values, places), shape=(rows, self.fine.size)).tocsr()

    def wafer_curve(self, name):
        m = self.truth["measurements"][name]
        return lambda q: wafer_intensity(
            q, m["x50_nm"], m["sigma_ln"], m["phi_one_minus_phi"], m["surface_per_cm_nm4"], m["flat_per_cm"]
        )


def pixel_geometry(i, distance_mm, x_px, y_px):
    """q, normalisation (steradian) and 1/cos(2 theta) of each pixel; rotation matrices from SciPy."""
    from scipy.spatial.transform import Rotation

    # R = Rz(roll) Rx(pitch) Ry(yaw): intrinsic rotations z, x, y.
    turn = Rotation.from_euler("ZXY", [i["roll_deg"], i["pitch_deg"], i["yaw_deg"]], degrees=True).as_matrix()
    y, x = np.mgrid[: i["rows"], : i["columns"]].astype(float)
    flat = np.stack([(x - x_px) * i["pixel_mm"], (y - y_px) * i["pixel_mm"], np.zeros_like(x)], axis=-1)
    r = flat @ turn.T + [0.0, 0.0, distance_mm]
    length = np.linalg.norm(r, axis=-1)
    angle = np.arctan2(np.hypot(r[..., 0], r[..., 1]), r[..., 2])
    cos_sensor = r @ turn[:, 2] / length
    h = i["pixel_mm"] ** 2 * cos_sensor / length**2  # solid angle
    h *= (1.0 + np.cos(angle) ** 2) / 2.0  # unpolarised
    # NIST tables at 8.048 keV: dry air 0.01174 1/cm, silicon 148.12 1/cm.
    h *= np.exp(-0.01174 * i["air_mm"] / 10.0 / np.cos(angle))
    h *= 1.0 - np.exp(-148.12 * i["sensor_mm"] / 10.0 / cos_sensor)
    return 4.0 * pi / i["wavelength_nm"] * np.sin(angle / 2.0), h, 1.0 / np.cos(angle)


def wafer_intensity(q, x50_nm, sigma_ln, phi_one_minus_phi, surface, flat):
    """Log-normal spheres: Gauss-Hermite in ln D and the spherical Bessel function, unlike the generator's own way."""
    node, weight = np.polynomial.hermite_e.hermegauss(60)
    diameter = x50_nm * np.exp(sigma_ln * node)
    x = np.outer(q, diameter / 2.0)
    form = (3.0 * special.spherical_jn(1, x) / x) ** 2
    volume_cm3 = pi / 6.0 * diameter**3 * 1e-21
    pores = form @ (weight / weight.sum() * volume_cm3)
    # The surface term stops rising below 0.03 1/nm, under the beamstop, as the generator says of itself.
    return phi_one_minus_phi * SLD**2 * pores + surface * np.maximum(q, 0.03) ** -4.0 + flat


def agrees(value, variance, expected):
    """chi2 per bin is 1 within five standard deviations of a chi-square of as many degrees of freedom."""
    n = value.size
    chi2 = np.sum((value - expected) ** 2 / variance)
    return abs(chi2 / n - 1.0) < 5.0 * np.sqrt(2.0 / n), chi2 / n


# ------------------------------------------------------------------------------------------------------ physics


@pytest.mark.parametrize("index", range(6))
def test_every_wafer_reduces_to_its_true_curve_in_absolute_units(demo, index):
    name = demo.samples[index]
    value, variance = demo.intensity(name, "empty-cell")
    fits, chi2 = agrees(value, variance, demo.blurred(demo.wafer_curve(name)))
    assert fits, f"{name}: chi2 per bin {chi2:.3f}"


def test_glassy_carbon_reduces_to_the_certified_table(demo):
    # Source: NIST SRM 3600, as in demo-data/glassy_carbon.csv; only bins inside the certified range.
    table = np.loadtxt((DEMO / "glassy_carbon.csv").read_text().splitlines()[5:], delimiter=",")
    # Beyond the table's ends only the beam spot's wings look; there the end values do.
    expected = demo.blurred(lambda q: np.exp(np.interp(np.log(q), *np.log(table[:, :2].T))))
    value, variance = demo.intensity("glassy-carbon", "empty-beam")
    inside = EDGES[:-1] > table[0, 0] + 0.04
    fits, chi2 = agrees(value[inside], variance[inside], expected[inside])
    assert fits, f"chi2 per bin {chi2:.3f}"


def test_the_physics_cannot_be_left_out_unnoticed(demo):
    """The checks above would see a forgotten background and the nominal geometry."""
    name = demo.samples[0]
    expected = demo.blurred(demo.wafer_curve(name))
    m = demo.truth["measurements"][name]
    s, var_s = demo.signal(name)
    scale = 10.0 / m["thickness_mm"] / m["transmission"]
    assert agrees(scale * s, scale**2 * var_s, expected)[1] > 10  # above 1.65 the checks fail
    i, nominal = demo.truth["instrument"], demo.truth["nominal"]
    q, h, _ = pixel_geometry(i, nominal["distance_mm"], nominal["beam_x_px"], nominal["beam_y_px"])
    value, variance = demo.intensity(name, "empty-cell", q, h)
    filled = np.isfinite(value)
    assert agrees(value[filled], variance[filled], expected[filled])[1] > 4


def test_a_fit_finds_the_true_median_and_the_counts_suffice(demo):
    for name in demo.samples[:2]:
        value, variance = demo.intensity(name, "empty-cell")
        m = demo.truth["measurements"][name]
        start = [m["x50_nm"], m["sigma_ln"], m["phi_one_minus_phi"], m["surface_per_cm_nm4"], m["flat_per_cm"]]

        def residuals(p, value=value, variance=variance, start=start):
            curve = demo.blurred(lambda q: wafer_intensity(q, *(p * start)))
            return (value - curve) / np.sqrt(variance)

        fit = optimize.least_squares(residuals, [1.02, 1.02, 0.98, 1.0, 1.0], x_scale=0.01)
        u = np.sqrt(np.linalg.inv(fit.jac.T @ fit.jac)[0, 0])
        assert u < 0.007  # counting uncertainty of x50, with some four times the full run's counts
        assert abs(fit.x[0] - 1.0) < 5.0 * u


def test_rings_stand_where_silver_behenate_puts_them(demo):
    # Source: d = 5.8380(3) nm, Huang, Toraya, Blanton & Wu, J. Appl. Cryst. 26 (1993) 180.
    frames, times, mask = demo.read("silver-behenate")
    use = ~(demo.masked | mask)
    edges = np.linspace(0.93, 1.22, 59)
    photons = demo.truth["measurements"]["silver-behenate"]["flux_per_s"] * times.sum()
    counts, h = (np.histogram(demo.q[use], edges, weights=w[use])[0] for w in (frames[0].astype(float), demo.h))
    profile, u_profile = counts / (h * photons), np.sqrt(counts) / (h * photons)
    middle = 0.5 * (edges[1:] + edges[:-1])

    def ring(q, height, centre, sigma, level, slope):
        return height * np.exp(-0.5 * ((q - centre) / sigma) ** 2) + level + slope * (q - 1.07)

    start = [np.ptp(profile), 1.07, 0.03, profile.min(), 0.0]
    found, covariance = optimize.curve_fit(ring, middle, profile, start, u_profile, absolute_sigma=True)
    # The beam spot moves a ring outwards by sigma^2 / (2 r), 9e-5 of q; the spot-free peak is 2 pi / d.
    expected = 2 * pi / 5.8380 * (1 + 9e-5)
    assert np.sqrt(covariance[1, 1]) < 2e-4
    assert found[1] == pytest.approx(expected, abs=5 * np.sqrt(covariance[1, 1]) + 5e-5)


def test_repeated_exposures_scatter_as_poisson(demo):
    for name in ("empty-beam", "empty-cell", "glassy-carbon", demo.samples[0]):
        frames, _, mask = demo.read(name)
        use = ~(demo.masked | mask)
        a, b = frames[0][use].astype(float), frames[1][use].astype(float)
        seen = a + b > 0
        # Given a + b, a is binomial with 1/2: the mean of (a - b)^2 / (a + b) is 1 whatever the counts.
        ratio = (a[seen] - b[seen]) ** 2 / (a[seen] + b[seen])
        assert abs(ratio.mean() - 1.0) < 5.0 * np.sqrt(2.0 / seen.sum())


def test_behind_the_beamstop_only_the_dark_counts(demo):
    i = demo.truth["instrument"]
    y, x = np.mgrid[: i["rows"], : i["columns"]]
    stop = np.hypot(x - i["beam_x_px"], y - i["beam_y_px"]) < 8
    frames, times, _ = demo.read("empty-beam")
    expected = stop.sum() * times.sum() * i["dark_rate_per_s"]
    assert stats.poisson.cdf(int(frames[:, stop].sum()), expected) > 1e-6
    assert stats.poisson.sf(int(frames[:, stop].sum()) - 1, expected) > 1e-6


@pytest.mark.parametrize("arrivals", [12.0, 2000.0])  # one by one; gamma blocks first
def test_the_counter_loses_what_a_dead_time_takes(generator, arrivals):
    # N >= k means that the k-th count, k - 1 dead times and a gamma(k) wait after the start, comes before the end:
    # P(N >= k) = P(Poisson(n (t - (k - 1) tau)) >= k). Derived; the mean tends to Knoll's n t / (1 + n tau).
    tau, rate = 1e-7, 5e5  # n tau = 0.05
    time = arrivals / rate
    drawn = generator.physics.count_events(np.random.default_rng(5), np.full(40000, rate), time, tau)
    k = np.arange(1, int(3 * arrivals) + 50)
    at_least = np.where((k - 1) * tau < time, stats.poisson.sf(k - 1, rate * np.maximum(time - (k - 1) * tau, 0)), 0)
    mean, second = at_least.sum(), np.sum((2 * k - 1) * at_least)
    variance = second - mean**2
    assert mean == pytest.approx(arrivals / 1.05, rel=0.01)
    assert drawn.mean() == pytest.approx(mean, abs=5 * np.sqrt(variance / drawn.size))
    assert drawn.var() == pytest.approx(variance, rel=5 * np.sqrt(2 / drawn.size) * 1.1)
    assert variance < 0.95 * mean  # the counter regularises: a Poisson draw would fail here


def test_water_takes_its_contrast_from_the_pores_below_a_diameter(generator):
    # The wafer's own integral, by adaptive quadrature up to the diameter; contrasts of the textbook, 18.64 and 9.39.
    physics = generator.physics
    pores = physics.Pores(14.0, 0.22, 0.28, 0.008, 0.05)
    q = np.array([0.1, 0.4, 0.9, 1.7])
    ratio = (1 - 9.391 / 18.6408) ** 2

    def scatters(diameter, q):
        x = q * diameter / 2
        density = np.exp(-0.5 * (np.log(diameter / 14.0) / 0.22) ** 2) / (0.22 * diameter * np.sqrt(2 * pi))
        return density * pi / 6 * diameter**3 * 1e-21 * (3 * special.spherical_jn(1, x) / x) ** 2

    for below in (1.0, 11.0, 14.0, 100.0):
        filled = np.array([integrate.quad(scatters, 3.7, min(below, 52.0), (p,), epsabs=0, limit=400)[0] for p in q])
        lost = 0.28 * 0.72 * SLD**2 * (1 - ratio) * (filled if below > 3.7 else 0.0)
        assert pores.intensity_with_water_per_cm(q, below) == pytest.approx(pores.intensity_per_cm(q) - lost, rel=1e-5)


def test_kelvins_radius_by_hand(generator):
    # 2 x 0.07197 N/m x 18.069 cm3/mol / (8.3145 x 298.15 J/mol) = 1.0492 nm; ln 2 = 0.6931 at 50 %.
    assert generator.physics.kelvin_radius_nm(50.0) == pytest.approx(1.0492 / 0.69315, rel=1e-3)


def test_the_humidity_cycle_is_one_stack_with_a_row_for_every_exposure(generator, tmp_path):
    generator.main(["--out", str(tmp_path), "--scale-exposure", "0.05"])
    rows = [row for row in csv.DictReader((tmp_path / "measurements.csv").open(newline="")) if row["series"]]
    assert {row["file"] for row in rows} == {"frames/humidity-cycle.h5"} and not any(row["batch"] for row in rows)
    assert [row["frames"] for row in rows] == [str(k) for k in range(len(rows))] and 20 <= len(rows) <= 30
    humidity = [float(row["relative_humidity_percent"]) for row in rows]
    top = humidity.index(max(humidity))
    assert humidity[: top + 1] == sorted(humidity[: top + 1]) and humidity[top:] == sorted(humidity[top:], reverse=True)
    with h5py.File(tmp_path / "frames/humidity-cycle.h5") as file:
        assert file["entry/instrument/detector/data"].shape == (len(rows), 600, 500)


# -------------------------------------------------------------------------------------------------------- truth


def test_truth_tells_the_percentiles_of_the_distribution_it_names(demo):
    low, high = demo.truth["size_window_nm"]
    for name in demo.samples:
        m = demo.truth["measurements"][name]
        d = np.linspace(low, high, 400001)
        density = np.exp(-0.5 * (np.log(d / m["x50_nm"]) / m["sigma_ln"]) ** 2) / d
        cumulative = np.cumsum(density) / density.sum()
        for p in (10, 50, 90):
            found = d[np.searchsorted(cumulative, p / 100)]
            assert m["within_window"][f"x{p}_nm"] == pytest.approx(found, abs=2 * (d[1] - d[0]))
        mean = np.sum(d * density) / density.sum()
        assert m["within_window"]["mean_nm"] == pytest.approx(mean, rel=1e-6)
        sd = np.sqrt(np.sum((d - mean) ** 2 * density) / density.sum())
        assert m["within_window"]["relative_width"] == pytest.approx(sd / mean, rel=1e-5)


def test_kilns_one_and_two_are_alike_and_kiln_three_is_larger(demo, generator):
    x50 = {batch: t["x50_nm"] for batch, t in demo.truth["batches"].items()}
    assert x50["kiln 1"] == x50["kiln 2"]
    assert x50["kiln 3"] / x50["kiln 1"] == pytest.approx(1.08)
    wafers = [row for row in generator.make_rows(1) if row.role == "sample" and not row.stack]
    assert [sum(w.truth["batch"] == batch for w in wafers) for batch in x50] == [4, 4, 4]
    off = [np.log(w.truth["x50_nm"] / x50[w.truth["batch"]]) for w in wafers]
    assert 0.3 < np.std(off) / 0.008 < 2.0  # twelve normal draws: 1 % and less outside


def test_transmissions_follow_from_the_monitors(demo):
    rows = {row["name"]: row for row in demo.table}
    empty = float(rows["empty-beam"]["transmitted_intensity"]) / float(rows["empty-beam"]["incident_intensity"])
    for name, row in rows.items():
        if row["role"] == "dark":
            continue
        found = float(row["transmitted_intensity"]) / float(row["incident_intensity"]) / empty
        # Four readings of 0.1 % each.
        assert found == pytest.approx(demo.truth["measurements"][name]["transmission"], rel=5 * 0.002)


# -------------------------------------------------------------------------------------------------------- files


def test_files_follow_the_nexus_dictionary_and_mark_gaps_by_type(demo):
    kinds = set()
    for row in demo.table:
        with h5py.File(demo.folder / row["file"]) as file:
            assert "invented" in file.attrs["note"] and b"invented" in file["entry/title"][()]
            detector = file["entry/instrument/detector"]
            assert detector.attrs["NX_class"] == "NXdetector"
            assert file["entry/instrument/monochromator/wavelength"].attrs["units"] == "nm"
            assert detector["x_pixel_size"].attrs["units"] == "m"
            data = detector["data"]
            assert np.atleast_1d(detector["count_time"][()]).sum() == pytest.approx(
                (data.shape[0] if data.ndim == 3 else 1) * float(row["exposure_s"])
            )
            gap = data[()][..., detector["pixel_mask"][()] & 1 != 0]
            if data.dtype == np.float32:
                assert np.isnan(gap).all()
            else:
                assert (gap == (-1 if data.dtype == np.int32 else np.iinfo(data.dtype).max)).all()
            kinds.add((data.dtype.name, data.chunks is not None, data.ndim))
    assert {("uint32", False, 3), ("uint32", True, 3), ("int32", True, 2), ("float32", True, 3)} <= kinds


def test_the_mask_is_generous_and_leaves_defects_to_be_found(demo):
    frames, _, file_mask = demo.read("glassy-carbon")
    reachable = demo.q[~(demo.drawn | file_mask)]
    assert 0.070 < reachable.min() < 0.076  # the study starts at 0.075
    assert 0.80 < np.mean(~demo.drawn) < 0.95
    left = demo.truth["unflagged_row_column"]
    assert min(len(left["hot"]), len(left["dead"]), len(left["stuck_at_saturation"])) > 0
    for kind, low, high in (("hot", 500, 1e6), ("dead", 0, 0), ("stuck_at_saturation", 1e6, 1e6)):
        for row, column in left[kind]:
            assert not file_mask[row, column] and not demo.drawn[row, column]
            assert low <= frames[0, row, column] <= high


def test_study_table_and_files_agree(demo):
    with (DEMO / "study.toml").open("rb") as file:
        study = tomllib.load(file)
    assert (demo.folder / study["detector"]["mask"]).exists()
    window = [3 * pi / study["reduce"]["q_max_per_nm"], pi / study["reduce"]["q_min_per_nm"]]
    assert demo.truth["size_window_nm"] == pytest.approx(window)
    with h5py.File(demo.folder / "frames/k1-a.h5") as file:
        detector = file["entry/instrument/detector"]
        assert detector["distance"][()] == study["instrument"]["distance_mm"]
        assert [detector[f"beam_center_{a}"][()] for a in "xy"] == study["instrument"]["beam_center_px"]
        assert detector["saturation_value"][()] == study["detector"]["saturation_value"]
    names = [row["name"] for row in demo.table]
    assert len(set(names)) == len(names)
    assert study["compare"]["reference"] in {row["batch"] for row in demo.table}
    for row in demo.table:
        assert {row["background"], row["dark"]} <= {"", *names}


def test_the_same_start_gives_the_same_bytes_and_another_does_not(generator, tmp_path):
    def digest(folder, *more):
        generator.main(["--out", str(folder), "--quick", "--scale-exposure", "0.2", *more])
        files = sorted(p for p in folder.rglob("*") if p.is_file())
        return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}

    first, second = digest(tmp_path / "a"), digest(tmp_path / "b")
    other = digest(tmp_path / "c", "--seed", "2")
    assert first == second
    assert all(first[name] != other[name] for name in first if name != "study.toml" and "mask" not in name)


def test_a_foreign_table_is_never_overwritten(generator, tmp_path):
    (tmp_path / "measurements.csv").write_text("name\nmine\n")
    with pytest.raises(SystemExit, match="was not written by this generator"):
        generator.main(["--out", str(tmp_path), "--quick"])
    assert (tmp_path / "measurements.csv").read_text() == "name\nmine\n"
    assert not (tmp_path / "frames").exists()


@pytest.mark.parametrize("bad", [["--scale-exposure", "0"], ["--scale-flux", "-1"], ["--seed", "-3"]])
def test_impossible_options_are_refused(generator, tmp_path, bad, capsys):
    with pytest.raises(SystemExit):
        generator.main(["--out", str(tmp_path), *bad])
    assert bad[0] in capsys.readouterr().err
