# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures stay as they were looked at, and say what to do where there is nothing to draw.

The kept pictures are compared pixel by pixel with a generous tolerance (root mean square of grey levels 0-255): fonts and
line widths may move a little between versions of Matplotlib, a lost band or axis may not. After a wanted change:
    python -m pytest tests/python/test_pictures.py --mpl-generate-path=tests/python/pictures     and look at them.
"""

import numpy as np
import pytest
from matplotlib.colors import to_rgb

import sievelight as sl
from sievelight import plot, plot_series

TOLERANCE = 14
keep = pytest.mark.mpl_image_compare(
    baseline_dir="pictures", tolerance=TOLERANCE, style="default", savefig_kwargs={"dpi": 90}
)


def spheres(noise=0.03, points=160, median_nm=12.0, seed=3):
    """A curve of log-normal spheres (form factor: Rayleigh 1911) with noise."""
    q, d = np.geomspace(0.05, 3, points), np.geomspace(3, 60, 400)
    weight = np.exp(-0.5 * (np.log(d / median_nm) / 0.25) ** 2) / d * np.gradient(d)
    x = np.outer(q, d / 2)
    intensity = ((3 * (np.sin(x) - x * np.cos(x)) / x**3) ** 2 * d**3) @ weight
    intensity = 60 * intensity / intensity[0] + 0.03
    u = noise * intensity
    noisy = intensity + u * np.random.default_rng(seed).standard_normal(points)
    return sl.Curve(q_per_nm=q, intensity=noisy, private_u=u, unit="1/cm")


@pytest.fixture(scope="module")
def curve():
    return spheres()


@pytest.fixture(scope="module")
def sizes(curve):
    return sl.invert(curve, contrast_per_cm2=1.8e11)


@pytest.fixture
def figure():
    """`figure(draw)` draws in the package's style and gives the figure."""
    import matplotlib.pyplot as plt

    def make(draw):
        with plt.rc_context(plot.STYLE):
            drawn = draw()
        return (drawn[0] if isinstance(drawn, tuple) else drawn).figure

    yield make
    plt.close("all")


def labelled(fig):
    """Every axis says what it shows; a physical quantity has its unit."""
    for ax in fig.axes:
        assert (ax.get_xlabel() or ax.get_ylabel()) and (ax.get_ylabel() or "colorbar" in ax.get_label()), ax
    return fig


@keep
def test_curve(curve, figure):
    return labelled(figure(lambda: curve.plot(label="tile 1")))


@keep
def test_guinier(curve, figure):
    return labelled(figure(lambda: sl.fit_guinier(curve).plot(curve)))


@keep
def test_porod(curve, figure):
    return labelled(figure(lambda: sl.fit_porod(curve).plot(curve)))


@keep
def test_kratky(curve, figure):
    return labelled(figure(lambda: sl.fit_guinier(curve).plot(curve, kind="kratky")))


@keep
def test_invariant(curve, figure):
    guinier, porod = sl.fit_guinier(curve), sl.fit_porod(curve)
    found = sl.invariant(curve, guinier=guinier, porod=porod)
    return labelled(figure(lambda: found.plot(curve, porod=porod, guinier=guinier)))


@keep
def test_sizes(sizes, figure):
    return labelled(figure(sizes.plot))


@keep
def test_fit(sizes, figure):
    return labelled(figure(lambda: sizes.plot(kind="fit")))


@keep
def test_residuals(sizes, figure):
    return labelled(figure(lambda: sizes.plot(kind="residual")))


@keep
def test_trade_off(curve, figure):
    return labelled(figure(lambda: sl.trade_off(curve, contrast_per_cm2=1.8e11).plot()))


def frame():
    rng = np.random.default_rng(1)
    rows, columns = np.mgrid[:90, :120]
    r = np.hypot(rows - 40.0, columns - 55.0)
    counts = rng.poisson(800 * np.exp(-((r / 14) ** 2)) + 60 * np.exp(-(((r - 34) / 2) ** 2)) + 2)
    masked = (r < 4) | (columns == 100)
    geometry = sl.DetectorGeometry(
        wavelength_nm=0.154, distance_mm=600, pixel_size_x_mm=0.172, pixel_size_y_mm=0.172,
        beam_center_x_px=55, beam_center_y_px=40,
    )  # fmt: skip
    return counts, masked, geometry


@keep
def test_frame(figure):
    counts, masked, geometry = frame()
    ring = geometry.q_per_nm(55 + 34, 40)
    return labelled(
        figure(lambda: plot.plot_frame(counts, masked, geometry=geometry, ring_q_per_nm=[ring], sectors_deg=[(20, 60)]))
    )


@keep
def test_batches(figure):
    rng = np.random.default_rng(5)
    names = [f"{b}-{k}" for b in ("kiln 1", "kiln 2", "kiln 3") for k in "abc"]
    batches = [n[:6] for n in names]
    value = [12 + 1.0 * (b == "kiln 3") + 0.1 * rng.standard_normal() for b in batches]
    estimates = [sl.Estimate.normal(v, 0.08) for v in value]
    covariance = np.diag([0.08**2] * 9)
    found = sl.compare_batches(
        names=names,
        batches=batches,
        reference="kiln 1",
        values=[e.value for e in estimates],
        covariance=covariance,
        margin_percent=3,
        quantity="x50",
    )
    return labelled(figure(lambda: found.plot(names, batches, estimates, label="x$_{50}$ / nm")))


@keep
def test_budget(figure):
    shares = {"counts": 0.55, "transmission": 0.2, "absolute scale": 0.15, "background": 0.1}
    return figure(lambda: plot.plot_budget(shares, title="x50"))


@keep
def test_series_and_map(figure):
    import matplotlib.pyplot as plt

    def draw():
        axes = plt.subplots(1, 2, figsize=(7, 2.6))[1]
        humidity = [5, 30, 60, 90, 60, 30, 5]
        estimates = [sl.Estimate.normal(v, 0.1) for v in (10, 10.1, 9.5, 7, 8.5, 9.9, 10)]
        plot_series.plot_series(humidity, estimates, variable="relative_humidity_percent", label="x$_{50}$ / nm",
                                changed=[0, 0, 1, 1, 1, 0, 0], turning_point=3, ax=axes[0])  # fmt: skip
        plot_series.plot_map([0, 1, 2, 0, 1, 2], [0, 0, 0, 1, 1, 1], np.arange(6.0), label="x$_{50}$ / nm", ax=axes[1])
        return axes[0]

    return labelled(figure(draw))


def test_what_cannot_be_drawn_says_what_to_do(curve):
    with pytest.raises(ValueError, match=r"every pixel is masked[^\n]*\nCheck the mask"):
        plot.plot_frame(np.ones((4, 5)), np.ones((4, 5), bool))
    below = sl.Curve(q_per_nm=[0.1, 0.2], intensity=[-1, -2], private_u=[1, 1], unit="1/cm")
    for kind in ("log", "guinier", "porod", "kratky"):
        with pytest.raises(sl.InputError, match=r"above zero\.\nCheck the background"):
            below.plot(kind=kind)
    with pytest.raises(sl.InputError, match="above zero"):
        sl.Curve(q_per_nm=[], intensity=[]).plot()
    with pytest.raises(sl.InputError, match="'log', 'guinier', 'porod' or 'kratky'"):
        curve.plot(kind="guenier")


def lightness(color):
    """CIE L* of an sRGB colour, D65 (IEC 61966-2-1, CIE 15)."""
    linear = np.array([c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)])
    y = float(linear @ [0.2126, 0.7152, 0.0722])
    return 116 * np.cbrt(y) - 16 if y > 0.008856 else 903.3 * y


def test_neighbours_differ_without_colour():
    """In grey print two samples drawn next to each other differ by 10 of 100 in lightness, or by marker and dashes."""
    for a, b, k in zip(plot.COLORS[:-1], plot.COLORS[1:], range(len(plot.COLORS) - 1), strict=True):
        assert abs(lightness(a) - lightness(b)) > 10 or plot.MARKERS[k] != plot.MARKERS[k + 1]
    assert abs(lightness(plot.COLORS[0]) - lightness(plot.COLORS[1])) > 20
    assert len(set(plot.MARKERS)) == len(plot.MARKERS) == len(plot.COLORS)
