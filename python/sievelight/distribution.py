# SPDX-License-Identifier: GPL-3.0-or-later
"""From a curve to a size distribution with bands: which one do I use, and when.

`invert` for results: density, percentiles and their 68 % and 95 % bands, a second or less a curve. Its quick look,
``method="evidence"``, answers in milliseconds and is for a first picture only. `make_kernel` once for a series of curves
on the same bins. `write_distribution` for a NeXus file.
Sizes are diameters of spheres, in nm, or what `particle_shape` calls the size of another shape; weighting is by volume
(q3 of ISO 9276-1). The shape is an assumption: a curve alone does not prove it.

>>> import sievelight as sl
>>> size = sl.invert(sl.examples.curve(), method="evidence")
>>> isinstance(size, sl.SizeDistribution), size.q3_per_nm.shape == size.diameter_nm.shape
(True, True)
>>> isinstance(size.x50_nm, sl.Estimate), isinstance(size.x50_nm.band95, sl.Range)
(True, True)
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Literal, TypeVar

from sievelight import _core
from sievelight._core import (
    Curve,
    HardSpheres,
    Kernel,
    Shape,
    SizeDistribution,
    SlitProfile,
    TradeOff,
    hard_sphere_structure_factor,
    sphere_form_factor,
)
from sievelight.errors import input_error

__all__ = [
    "HardSpheres",
    "Kernel",
    "Shape",
    "SizeDistribution",
    "TradeOff",
    "hard_sphere_structure_factor",
    "invert",
    "make_kernel",
    "particle_shape",
    "sphere_form_factor",
    "trade_off",
    "write_distribution",
]

ShapeName = Literal["sphere", "core-shell sphere", "spheroid", "cylinder", "lamella"]
# What each shape needs: one of the alternatives, all of its names.
_SHAPES: dict[str, list[tuple[tuple[str, ...], Callable[..., Shape]]]] = {
    "sphere": [((), _core.sphere)],
    "core-shell sphere": [
        (("shell_ratio", "shell_contrast_ratio"), _core.core_shell_sphere),
        (("shell_nm", "shell_contrast_ratio"), _core.core_shell_sphere_of_thickness),
    ],
    "spheroid": [(("axis_ratio",), _core.spheroid)],
    "cylinder": [(("length_ratio",), _core.cylinder), (("length_nm",), _core.cylinder_of_length)],
    "lamella": [(("width_nm",), _core.lamella)],
}


T = TypeVar("T")


def _choice(name: str, value: str, known: Mapping[str, T]) -> T:
    if value not in known:
        raise input_error(f"{name} is {value!r}.", f"Use one of: {', '.join(known)}.")
    return known[value]


def particle_shape(
    name: ShapeName = "sphere",
    *,
    axis_ratio: float | None = None,
    length_ratio: float | None = None,
    length_nm: float | None = None,
    width_nm: float | None = None,
    shell_ratio: float | None = None,
    shell_nm: float | None = None,
    shell_contrast_ratio: float | None = None,
) -> Shape:
    """Describe the particles or pores of a distribution, for `invert` and `make_kernel`.

    Parameters
    ----------
    name : str
        "sphere": size is the diameter. "core-shell sphere": a pore with a lining, size is the outer diameter, volume
        that of core and shell, contrast that of the core. "spheroid": size is the diameter of the sphere of equal
        volume. "cylinder": long pores, size is the diameter. "lamella": slit pores, size is the thickness of a disc.
    axis_ratio : float
        Of a spheroid: polar over equatorial axis, above 1 elongated, below 1 flattened.
    length_ratio, length_nm : float
        Of a cylinder: length over diameter, or the same length for every diameter.
    width_nm : float
        Of a lamella: the diameter of the disc, the same for every thickness; large.
    shell_ratio, shell_nm : float
        Thickness of the shell over the outer radius, or in nm.
    shell_contrast_ratio : float
        Contrast of the shell over that of the core, both against the matrix.

    Returns
    -------
    Shape
        `name` and `size` in words; `form_factor(q, sizes)`, `volume_nm3(size)`.

    Raises
    ------
    InputError
        An unknown shape, a parameter that is missing or belongs to another shape, or a value out of range.

    Notes
    -----
    Orientations are averaged by Gauss-Legendre rules to 1e-10. Sources: A. Guinier, G. Fournet 1955, Small-Angle
    Scattering of X-rays (from memory); each formula stands in the header of the same name.

    Examples
    --------
    >>> import sievelight as sl
    >>> shape = sl.distribution.particle_shape("spheroid", axis_ratio=1.5)
    >>> shape.name, round(shape.volume_nm3(10.0))
    ('spheroid of axis ratio 1.5', 524)
    >>> sl.distribution.particle_shape("spheroid")
    Traceback (most recent call last):
        ...
    sievelight.InputError: the shape 'spheroid' was given no parameters.
    It needs axis_ratio.
    """
    given = {
        key: value
        for key, value in (
            ("axis_ratio", axis_ratio),
            ("length_ratio", length_ratio),
            ("length_nm", length_nm),
            ("width_nm", width_nm),
            ("shell_ratio", shell_ratio),
            ("shell_nm", shell_nm),
            ("shell_contrast_ratio", shell_contrast_ratio),
        )
        if value is not None
    }
    if name not in _SHAPES:
        raise input_error(f"shape is {name!r}.", f"Use one of: {', '.join(_SHAPES)}.")
    for wanted, make in _SHAPES[name]:
        if set(wanted) == set(given):
            return make(**given)
    needs = " or ".join(" and ".join(wanted) if wanted else "nothing more" for wanted, _ in _SHAPES[name])
    raise input_error(f"the shape '{name}' was given {', '.join(given) or 'no parameters'}.", f"It needs {needs}.")


def kernel_options(
    *,
    shape: Shape | ShapeName = "sphere",
    interaction: HardSpheres | None = None,
    slit: SlitProfile | None = None,
    power_exponent: float = 4.0,
    **shape_parameters: float | None,
) -> _core.KernelOptions:
    """What the particles are and what the beam does to their curve, as `invert` takes them."""
    kernel = _core.KernelOptions()
    if isinstance(shape, Shape):
        if any(value is not None for value in shape_parameters.values()):
            raise input_error("a ready shape was given with further parameters.", "Put them into particle_shape().")
        kernel.shape = shape
    else:
        kernel.shape = particle_shape(shape, **shape_parameters)
    kernel.interaction = interaction
    kernel.slit = slit
    kernel.power_exponent = power_exponent
    return kernel


def _options(
    diameter_nm: tuple[float, float] | None,
    q_range_per_nm: tuple[float, float] | None,
    kernel: _core.KernelOptions,
    contrast_per_cm2: float | None = None,
    power_law: bool = False,
) -> _core.InvertOptions:
    options = _core.InvertOptions()
    options.contrast_per_cm2 = 0.0 if contrast_per_cm2 is None else contrast_per_cm2
    options.power_law = power_law
    options.kernel = kernel
    options.diameter_nm = None if diameter_nm is None else _core.Range(*diameter_nm)
    options.q_range_per_nm = None if q_range_per_nm is None else _core.Range(*q_range_per_nm)
    return options


def make_kernel(
    curve: Curve,
    *,
    diameter_nm: tuple[float, float] | None = None,
    q_range_per_nm: tuple[float, float] | None = None,
    shape: Shape | ShapeName = "sphere",
    interaction: HardSpheres | None = None,
    slit: SlitProfile | None = None,
    power_exponent: float = 4.0,
    **shape_parameters: float | None,
) -> Kernel:
    """Compute what a curve's q, bins and resolution make of each size; depends on no intensity.

    Give it to `invert` for every curve on the same bins, with the same size window and q range.

    Parameters
    ----------
    curve : Curve
        Its q (1/nm), bin edges and q resolution are used; points without an intensity or uncertainty are left out, and
        a curve that leaves out other points needs a kernel of its own.
    diameter_nm, q_range_per_nm, shape, interaction, slit, power_exponent, **shape_parameters
        As for `invert`.

    Returns
    -------
    Kernel
        With `volume_nm3` (n, m), `power_law` (n), `grid.diameter_nm` (m).

    Raises
    ------
    InputError
        As for `invert`.

    Examples
    --------
    >>> import sievelight as sl
    >>> curves = [sl.examples.curve(median_nm=m, seed=m) for m in (8, 9)]
    >>> kernel = sl.make_kernel(curves[0], diameter_nm=(3.0, 25.0))
    >>> sizes = [sl.invert(c, kernel=kernel, method="evidence") for c in curves]
    >>> [round(size.x50_nm.value, 1) for size in sizes]
    [8.0, 9.0]
    """
    model = kernel_options(
        shape=shape, interaction=interaction, slit=slit, power_exponent=power_exponent, **shape_parameters
    )
    return _core.make_kernel(curve, _options(diameter_nm, q_range_per_nm, model))


def invert(
    curve: Curve,
    *,
    diameter_nm: tuple[float, float] | None = None,
    contrast_per_cm2: float | None = None,
    power_law: bool = False,
    method: Literal["sampled", "evidence", "cross_validation", "l_curve", "maximum_entropy"] = "sampled",
    seed: int = 1,
    draws: int = 2400,
    q_range_per_nm: tuple[float, float] | None = None,
    root: Literal["smaller", "larger"] = "smaller",
    shape: Shape | ShapeName = "sphere",
    interaction: HardSpheres | None = None,
    slit: SlitProfile | None = None,
    power_exponent: float = 4.0,
    also_fit: Literal["nothing", "hard_sphere_fraction", "power_exponent"] = "nothing",
    look_for_order: bool = True,
    kernel: Kernel | None = None,
    **shape_parameters: float | None,
) -> SizeDistribution:
    """Find the volume-weighted size distribution behind a curve, with bands that mean what they say.

    The model is a sum of particles of one shape, dilute or with hard-sphere interference, a flat background of either
    sign and, if asked for, K q⁻ᵖ, all seen through the q resolution and the slit. ln(density) is drawn from its posterior under two smoothness priors of unknown strength, half the draws each.

    Parameters
    ----------
    curve : Curve
        n points with uncertainties; intensity in 1/cm where a volume fraction is wanted.
    diameter_nm : (low, high), optional
        Size window that all results speak about, nm. Default: 3π/q_max to π/q_min, what the data support.
    contrast_per_cm2 : float, optional
        Difference of the scattering-length densities of the two phases, 1/cm². Without it no volume and no surface.
    power_law : bool
        Add K q⁻ᵖ with K ≥ 0, the surface scattering of things too large to be seen.
    method : "sampled", or a quick look
        The full method; or, in milliseconds, a non-negative Tikhonov fit with its strength by "evidence",
        "cross_validation" or "l_curve", or "maximum_entropy". Their results warn of what their bands miss.
    seed : int
        The same seed gives the same result, on any number of threads.
    draws : int
        Kept draws; more are added while they are worth fewer than 400 independent ones.
    q_range_per_nm : (low, high), optional
        Points used, 1/nm.
    root : "smaller" or "larger"
        Which φ solves φ(1 − φ).
    shape : Shape or name
        From `particle_shape`, or its name with its parameters as further keywords: ``shape="spheroid",
        axis_ratio=1.5``. It is an assumption; `shape` and `notes` of the result say so.
    interaction : HardSpheres, optional
        ``HardSpheres(0.2, radius_factor=1.1)``: Percus-Yevick interference at a given volume fraction, each size among
        its own kind (local monodisperse approximation). The fraction is taken as known unless `also_fit` says
        otherwise. Default: dilute.
    slit : SlitProfile, optional
        Of a line-shaped beam, from `reduce.slit_profile`; required for a curve measured with one.
    power_exponent : float
        p of the power law: 4 for smooth surfaces, down to 3 for rough ones.
    also_fit : "nothing", "hard_sphere_fraction" or "power_exponent"
        A number that is found together with the sizes, 0 to 0.5 or 3 to 4; its posterior stands in `also_fitted`, and
        every band holds what it leaves open. Takes some ten times as long. Sampled method only.
    look_for_order : bool
        Look for peaks of an ordered structure first, and refuse where they carry the curve: a sum of particles cannot
        make them. `index_peaks` reads such curves.
    kernel : Kernel, optional
        From `make_kernel`, for curves on the same bins; diameter_nm, shape, interaction, slit and power_exponent are
        then the kernel's.

    Returns
    -------
    SizeDistribution
        `diameter_nm` (m), `q3_per_nm` (m) with `q3_low68` … `q3_high95`; `x10_nm`, `x50_nm`, `x90_nm`, `mean_nm`,
        `relative_width`, `phi_one_minus_phi`, `volume_fraction`, `specific_surface_m2_per_cm3`, `background`,
        `power_law_k` as Estimate; `fit` and `residual` on `q_per_nm`; `draws` and `influence` by name; `warnings`;
        `shape` in words, and `notes` on what was assumed.

    Raises
    ------
    InputError
        Fewer than 12 usable points, points without uncertainty, an impossible window or shape, or a curve of a slit
        without its profile.
    NumericalError
        Nothing scatters above the background, or peaks of an ordered structure carry the curve.

    Notes
    -----
    Bands include the curve's coherent causes of error. `influence[name]` is d(summary)/d(intensity) on the points of
    `curve`, so J_a C_ab J_bᵀ is the covariance of two samples' summaries through the causes they share.
    Draws: S. Duane et al., Phys. Lett. B 195 (1987) 216; A. Beskos et al., Stoch. Proc. Appl. 121 (2011) 2201. Evidence:
    D. MacKay, Neural Comput. 4 (1992) 415. Largest size of the window: P. B. Moore, J. Appl. Cryst. 13 (1980) 168. Maximum
    entropy: J. Skilling, R. K. Bryan, Mon. Not. R. Astron. Soc. 211 (1984) 111. Spheres and hard spheres: Lord Rayleigh,
    Proc. R. Soc. A 84 (1911) 25; J. Percus, G. Yevick, Phys. Rev. 110 (1958) 1 (citations from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve(median_nm=8.0)
    >>> size = sl.invert(curve, contrast_per_cm2=1.864e11, draws=400)  # few draws: a quick example
    >>> f"x50 = {size.x50_nm.value:.1f} nm, volume {size.volume_fraction.value:.3f}"
    'x50 = 8.0 nm, volume 0.010'
    >>> size.x50_nm.band95.low < 8.0 < size.x50_nm.band95.high
    True
    """
    model = kernel_options(
        shape=shape, interaction=interaction, slit=slit, power_exponent=power_exponent, **shape_parameters
    )
    options = _options(diameter_nm, q_range_per_nm, model, contrast_per_cm2, power_law)
    options.method = _choice("method", method, _core.InversionMethod.__members__)
    options.seed = seed
    options.draws = draws
    options.root = _choice("root", root, _core.FractionRoot.__members__)
    options.also_fit = _choice("also_fit", also_fit, _core.AlsoFit.__members__)
    options.look_for_order = look_for_order
    return _core.invert(curve, options) if kernel is None else _core.invert(curve, kernel, options)


def trade_off(
    curve: Curve,
    *,
    diameter_nm: tuple[float, float] | None = None,
    contrast_per_cm2: float | None = None,
    power_law: bool = False,
    q_range_per_nm: tuple[float, float] | None = None,
    shape: Shape | ShapeName = "sphere",
    interaction: HardSpheres | None = None,
    slit: SlitProfile | None = None,
    power_exponent: float = 4.0,
    **shape_parameters: float | None,
) -> TradeOff:
    """What every strength of the smoothness penalty would cost in misfit and bring in smoothness, to look at.

    Nothing needs to be chosen from it: the sampled method of `invert` draws the strength, the quick ones take the one
    that their rule marks here.

    Parameters
    ----------
    curve : Curve
        n points with uncertainties.
    diameter_nm, contrast_per_cm2, power_law, q_range_per_nm, shape, interaction, slit, power_exponent, **shape_parameters
        As for `invert`.

    Returns
    -------
    TradeOff
        Over s strengths, weak to stiff: `ln_strength`, `chi2_per_point`, `roughness`, `effective` parameters,
        `ln_evidence` (less its largest), `cross_validation` (over its least), each (s); `density` (m, s) per ln D with
        largest value 1 over `diameter_nm` (m); and the places `by_evidence`, `by_cross_validation`, `at_corner`.

    Raises
    ------
    InputError, NumericalError
        As for `invert`.

    Notes
    -----
    P. C. Hansen 1992, SIAM Rev. 34, 561; D. MacKay 1992, Neural Comput. 4, 415; G. Golub, M. Heath, G. Wahba 1979,
    Technometrics 21, 215 (citations from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.trade_off(sl.examples.curve())
    >>> found.density.shape == (found.diameter_nm.size, found.ln_strength.size)
    True
    >>> bool(found.chi2_per_point[0] < found.chi2_per_point[-1])  # a stiff penalty fits worse
    True
    """
    model = kernel_options(
        shape=shape, interaction=interaction, slit=slit, power_exponent=power_exponent, **shape_parameters
    )
    return _core.trade_off(curve, _options(diameter_nm, q_range_per_nm, model, contrast_per_cm2, power_law))


def write_distribution(path: str | os.PathLike[str], distribution: SizeDistribution, *, title: str = "") -> None:
    """Write a distribution as a NeXus file that any NeXus viewer opens on the density with its bands.

    Parameters
    ----------
    path : path
        The file to write; an existing one is replaced.
    distribution : SizeDistribution
        From `invert`.
    title : str
        Usually the sample's name.

    Raises
    ------
    DataError
        The file cannot be written.

    Examples
    --------
    >>> import sievelight as sl
    >>> size = sl.invert(sl.examples.curve(), method="evidence")
    >>> sl.write_distribution("tile.h5", size, title="invented")
    >>> size.save("tile.csv").name  # the density as a table
    'tile.csv'
    """
    _core.write_distribution(os.fspath(path), distribution, title=title)
