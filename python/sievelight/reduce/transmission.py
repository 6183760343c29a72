# SPDX-License-Identifier: GPL-3.0-or-later
"""Transmission: given, from monitors, or from exposures of the direct beam."""

from sievelight import _core
from sievelight._core import Frame, Transmission
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Pair


def given_transmission(name: str, value: float, *, u: float = 0.0) -> Transmission:
    """Transmission of a row as a number, with everything in the beam, relative to the empty beam.

    Parameters
    ----------
    name : of the row; stands in the cause ``"transmission: <name>"``.
    value, u : and its standard uncertainty.

    Returns
    -------
    Transmission

    Raises
    ------
    InputError
        It is not above zero, or above 1 by more than three of its `u`.

    Examples
    --------
    >>> import sievelight as sl
    >>> t = sl.given_transmission("tile", 0.40, u=0.002)
    >>> t.value, t.u, list(t.factor.causes)
    (0.4, 0.002, ['transmission: tile'])
    """
    return _core.given_transmission(name, value, u)


def transmission_from_monitors(
    name: str,
    *,
    incident: float | Pair,
    transmitted: float | Pair,
    empty_name: str,
    empty_incident: float | Pair,
    empty_transmitted: float | Pair,
) -> Transmission:
    """T = (transmitted / incident) / (the same of the empty beam).

    Parameters
    ----------
    name, empty_name : of the rows.
    incident, transmitted, empty_incident, empty_transmitted : readings, each a number or (value, u), in any unit. The empty
        beam's share of the error has an id of its own, common to all samples compared with it.

    Returns
    -------
    Transmission

    Raises
    ------
    InputError
        A reading that is not above zero, or a transmission above 1 by more than three of its u.

    Examples
    --------
    >>> import sievelight as sl
    >>> t = sl.transmission_from_monitors(
    ...     "tile", incident=(1000, 1), transmitted=(392, 1),
    ...     empty_name="empty beam", empty_incident=(1000, 1), empty_transmitted=(980, 1)
    ... )
    >>> round(t.value, 6), sorted(t.factor.causes)
    (0.4, ['empty beam: empty beam', 'transmission: tile'])
    """
    return _core.transmission_from_monitors(
        name,
        arguments.reading(incident),
        arguments.reading(transmitted),
        empty_name,
        arguments.reading(empty_incident),
        arguments.reading(empty_transmitted),
    )


def transmission_from_frames(
    name: str,
    sample: Frame,
    *,
    empty_name: str,
    empty: Frame,
    beam_center_px: Pair,
    radius_px: float,
    dead_time_s: float | None = None,
    dead_time_model: str = "non-paralyzable",
    dark_per_s: float = 0.0,
    attenuator: float | Pair = 1.0,
    empty_attenuator: float | Pair = 1.0,
    same_attenuator: bool = True,
) -> Transmission:
    """Transmission from exposures of the direct beam through the sample and without it, per exposure time.

    Parameters
    ----------
    beam_center_px : (x, y)
        Column and row of the beam.
    radius_px : float
        Acceptance: scattering beyond it counts as lost. Named in the result.
    dark_per_s : float
        Counts a pixel and second without beam.
    attenuator, empty_attenuator, same_attenuator
        Attenuators in the two exposures (a number or (value, u)); the same one in both cancels.

    Returns
    -------
    Transmission

    Raises
    ------
    InputError
        Other sizes, no exposure, no pixel or masked (saturated) pixels inside the radius.

    Examples
    --------
    >>> import sievelight as sl
    >>> t = sl.transmission_from_frames(
    ...     "tile", sl.examples.direct_beam(transmission=0.4),
    ...     empty_name="empty beam", empty=sl.examples.direct_beam(seed=5),
    ...     beam_center_px=sl.examples.geometry().beam_center_px, radius_px=6.0, dark_per_s=1.0
    ... )
    >>> round(t.value, 2), t.u < 0.01
    (0.4, True)
    """
    return _core.transmission_from_frames(
        name,
        sample,
        empty_name,
        empty,
        beam_center_x_px=beam_center_px[0],
        beam_center_y_px=beam_center_px[1],
        radius_px=radius_px,
        dead_time_s=dead_time_s,
        dead_time_model=dead_time_model,
        dark_per_s=dark_per_s,
        attenuator=arguments.reading(attenuator),
        empty_attenuator=arguments.reading(empty_attenuator),
        same_attenuator=same_attenuator,
    )
