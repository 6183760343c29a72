# SPDX-License-Identifier: GPL-3.0-or-later
"""The published bimodal benchmark of size distributions (1992): simulated I(q) of two log-normal populations of spheres
with noise, and the true distribution in the file's own note.

Source: canSAS 1D working group, example data (canSAS XML 1.1). Truth in the file: volume fractions 0.012 and 0.008, total
0.0206 by integrating its table; contrast 1e22 1/cm^4; flat background 0.1 1/cm. Figures checked apart from this program
(README of the data): x10 12.8, x50 19.1, x90 50.3 nm, modes 15.2 and 35.9 nm; the truth through the sphere kernel has
chi^2/n = 1.08.
"""

import xml.etree.ElementTree as tree

import numpy as np
import pytest

import sievelight as sl


@pytest.fixture(scope="module")
def benchmark(reference_data):
    path = reference_data / "bimodal-test1.xml"
    if not path.exists():
        pytest.skip(f"no {path.name} in the reference data")
    (found,) = sl.read_curves(path)
    rows = [e for e in tree.parse(path).iter() if e.tag.rpartition("}")[2] == "row"]
    number = {"D": [], "f": []}
    for row in rows:
        for child in row:
            tag = child.tag.rpartition("}")[2]
            if tag in number:
                number[tag].append(float(child.text))
    diameter_nm, density_per_nm = np.array(number["D"]) / 10, np.array(number["f"]) * 10
    # The file says sqrt(contrast^2) = 1e11 1/cm^2. Its pore sum is dilute: phi (1 - phi) is what it calls the fraction.
    result = sl.invert(found.curve, contrast_per_cm2=1e11)
    return found.curve, result, diameter_nm, density_per_nm


def trapezoid(y, x):
    return float(np.sum(0.5 * (y[1:] + y[:-1]) * np.diff(x)))


def smoothed(diameter_nm, density_per_nm, at_nm, sd):
    """The true density per ln D, seen through a Gaussian in ln D, as a density per nm at the given sizes."""
    ln = np.linspace(np.log(diameter_nm[0]), np.log(diameter_nm[-1]), 6000)
    per_ln = np.interp(np.exp(ln), diameter_nm, density_per_nm) * np.exp(ln)
    kernel = np.exp(-0.5 * ((np.log(at_nm)[:, None] - ln) / sd) ** 2)
    return (kernel @ per_ln) / kernel.sum(axis=1) / at_nm


def test_the_table_of_the_file_is_the_recorded_truth(benchmark):
    _, _, d, f = benchmark
    assert trapezoid(f, d) == pytest.approx(0.0206, abs=5e-5)
    total = np.concatenate([[0], np.cumsum(0.5 * (f[1:] + f[:-1]) * np.diff(d))])
    recorded = {0.1: 12.8, 0.5: 19.1, 0.9: 50.3}
    for share, size in recorded.items():
        assert np.interp(share * total[-1], total, d) == pytest.approx(size, abs=0.1)


def test_two_modes_are_found_where_they_are(benchmark):
    _, r, _, _ = benchmark
    assert r.probability_two_modes > 0.95
    assert len(r.modes_nm) == 2
    # Modes of a smooth estimate: the noise leaves 5-10 % (width of the posterior of the larger, broader one).
    assert r.modes_nm[0] == pytest.approx(15.2, rel=0.05)
    assert r.modes_nm[1] == pytest.approx(35.9, rel=0.10)


def test_volume_and_median_are_within_five_percent_and_inside_their_bands(benchmark):
    _, r, _, _ = benchmark
    assert r.phi_one_minus_phi.value == pytest.approx(0.0206, rel=0.05)
    assert r.phi_one_minus_phi.band95.low <= 0.0206 <= r.phi_one_minus_phi.band95.high
    assert r.x50_nm.value == pytest.approx(19.1, rel=0.05)
    for name, true in (("x10_nm", 12.8), ("x50_nm", 19.1), ("x90_nm", 50.3)):
        e = getattr(r, name)
        # The table's own percentiles are known to 0.05 nm.
        assert e.band95.low - 0.05 <= true <= e.band95.high + 0.05, name
    assert r.background.band95.low <= 0.1 <= r.background.band95.high


def test_the_true_density_lies_in_the_band_at_nine_sizes_of_ten(benchmark):
    _, r, d, f = benchmark
    inside_window = (r.diameter_nm >= d[0]) & (r.diameter_nm <= d[-1])
    at = r.diameter_nm[inside_window]
    true = smoothed(d, f, at, r.smoothing_ln_d)
    true /= trapezoid(np.interp(r.diameter_nm, d, f), r.diameter_nm)  # of the window's volume, like q3
    held = (true >= r.q3_low95[inside_window]) & (true <= r.q3_high95[inside_window])
    assert held.mean() >= 0.9, f"{held.mean():.2f}"


def test_the_fit_is_as_good_as_the_noise_allows(benchmark):
    _, r, _, _ = benchmark
    assert 0.8 <= r.chi2_per_point <= 1.2
    assert r.converged
