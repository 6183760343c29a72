# SPDX-License-Identifier: GPL-3.0-or-later
"""Background, transmission, thickness and absolute scale: from averaged counts to 1/cm."""

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import (
    Absolute,
    AbsoluteScale,
    Averaged,
    BackgroundFactor,
    Curve,
    Factor,
    IntensityStandard,
    Measured,
    OverSubtraction,
    Transmission,
)
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Floats, Pair


def absolute_curve(
    sample: Averaged | Measured | Curve,
    *,
    name: str | None = None,
    transmission: Transmission | Factor | float | None = None,
    background: Averaged | Measured | Curve | None = None,
    background_name: str | None = None,
    background_transmission: Transmission | Factor | float | None = None,
    background_scale: Factor | BackgroundFactor | float = 1.0,
    background_scale_u: float = 0.0,
    thickness_mm: float | None = None,
    thickness_u_mm: float = 0.0,
    absolute_scale: AbsoluteScale | Factor | float | None = None,
    self_absorption: bool = False,
    walls: str = "ignore",
    wavelength_nm: float = 0.0,
) -> Absolute:
    """dSigma/dOmega of a sample: I = (k/d) (1/C) [S_s/T_s - o f S_b/T_b].

    Parameters
    ----------
    sample, background : Averaged, Measured or Curve
        On the same bin edges. The background's counts become the pointwise cause ``"counts: <background>"``.
    transmission, background_transmission
        With everything in the beam, relative to the empty beam; 1 with a note where absent.
    background_scale, background_scale_u
        f; a number with u becomes the coherent cause ``"background scale: <background>"``.
    thickness_mm, thickness_u_mm
        d; cause ``"thickness: <sample>"``. Leave it out for a curve per sample instead of per cm.
    absolute_scale
        k from :func:`absolute_scale`; 1.0 says that S is absolute already (a flux was given).
    self_absorption : bool
        C of a plate normal to the beam; needs the transmission and ``wavelength_nm``.
    walls : "ignore", "upstream", "downstream" or "both"
        Where the cell's walls are that the background shows; seen obliquely through the sample.

    Returns
    -------
    Absolute
        ``curve`` in 1/cm (relative where thickness or scale is missing), ``steps``, ``notes``.

    Source: B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800; ISO 17867.
    """
    taken = None
    if background is not None:
        taken = arguments.measured(background, background_name or "background", background_transmission)
    scale = arguments.factor(background_scale)
    if background_scale_u:
        id = f"background scale: {taken.name if taken else 'background'}"
        scale = Factor(scale.value, {**scale.causes, id: background_scale_u})
    return _core.absolute_curve(
        arguments.measured(sample, name or "sample", transmission),
        taken,
        thickness_mm=thickness_mm,
        thickness_u_mm=thickness_u_mm,
        absolute_scale=None if absolute_scale is None else arguments.factor(absolute_scale),
        background_scale=scale,
        self_absorption=self_absorption,
        walls=walls,
        wavelength_nm=wavelength_nm,
    )


def fit_background_factor(
    sample: Averaged | Measured | Curve,
    background: Averaged | Measured | Curve,
    q_low_per_nm: float,
    q_high_per_nm: float,
    *,
    name: str | None = None,
    background_name: str | None = None,
    transmission: Transmission | Factor | float | None = None,
    background_transmission: Transmission | Factor | float | None = None,
) -> BackgroundFactor:
    """The factor that brings the background onto the sample where the sample is taken not to scatter.

    For files that give neither transmission nor the background's monitor; ``note`` says so for the findings. Give the
    result to :func:`absolute_curve` as ``background_scale``.
    """
    return _core.fit_background_factor(
        arguments.measured(sample, name or "sample", transmission),
        arguments.measured(background, background_name or "background", background_transmission),
        q_low_per_nm,
        q_high_per_nm,
    )


def over_subtracted(curve: Curve, *, run: int = 10) -> OverSubtraction:
    """Whether a subtraction took too much: the most negative run of neighbouring bins, in its uncertainties."""
    return _core.over_subtracted(curve, run)


def subtract_scaled(curve: Curve, other: Curve, *, factor: Factor | float = 1.0, name: str) -> Curve:
    """``curve - factor * other``, for a dispersant or matrix reduced to the same unit; ``name`` stands in its cause."""
    return _core.subtract_scaled(curve, other, arguments.factor(factor), name)


def srm3600() -> IntensityStandard:
    """NIST SRM 3600 glassy carbon: 59 certified points, relative standard uncertainty 2.58 %, common to all."""
    return _core.srm3600()


def absolute_scale(
    measured: Curve | Absolute,
    *,
    standard: IntensityStandard | None = None,
    shape_tolerance: float = 0.003,
    q_range_per_nm: Pair | None = None,
) -> AbsoluteScale:
    """k in I_table = k I_measured over the certified range, from the standard's curve S/T/d after its background.

    Parameters
    ----------
    measured : Curve or Absolute
        From :func:`absolute_curve` with the standard's thickness and without ``absolute_scale``.
    standard : IntensityStandard, optional
        Default :func:`srm3600`.
    shape_tolerance : float
        Relative difference of shape that is not warned about, besides the counts.

    Returns
    -------
    AbsoluteScale
        ``factor`` with causes ``"absolute scale: table"`` (never averaged away), ``"absolute scale: counts"`` and those
        of the standard's curve; ``warnings`` where the ratio is not flat.

    Raises
    ------
    InputError
        Fewer than three bins in the certified range; it is never extrapolated.

    Source: A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462.
    """
    curve = measured.curve if isinstance(measured, Absolute) else measured
    return _core.absolute_scale(
        curve, standard=standard, shape_tolerance=shape_tolerance, q_range_per_nm=q_range_per_nm
    )


def plate_self_absorption(transmission: ArrayLike, two_theta_deg: ArrayLike) -> Floats:
    """C = [1 - exp(-w)]/w with w = -ln T (1/cos 2theta - 1), for a plate normal to the beam."""
    return _core.plate_self_absorption(transmission, np.cos(np.radians(two_theta_deg)))
