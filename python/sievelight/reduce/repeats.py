# SPDX-License-Identifier: GPL-3.0-or-later
"""Repeated exposures of one sample: are they repeats, and which pixels were hit by something else?

Spikes first (:func:`find_spikes`, on frames), then :func:`compare_repeats` (on averages of single exposures), then
:func:`average` of the exposures that are kept.
"""

from __future__ import annotations

from collections.abc import Iterable

from sievelight import _core
from sievelight._core import Averaged, Frame, RepeatReport, SpikeReport
from sievelight.reduce import arguments


def compare_repeats(
    exposures: Iterable[Averaged], *, alpha: float = 0.01, scale_relative_u: float | None = None
) -> RepeatReport:
    """Test exposures of one sample against each other: bubbles, drift, radiation damage.

    Each exposure's counts are tested against the sum of the others, for its scale and for its shape, and all together for
    a trend with their number. Given a bin's sum over the exposures its counts are multinomial with the exposures' shares,
    whatever the sample, so the tests hold at any count.

    Parameters
    ----------
    exposures : Averaged, two or more
        Single exposures in the order in which they were taken, on the same bins.
    alpha : float
        Chance of any false claim in the whole report (Holm's procedure).
    scale_relative_u : float, optional
        Scatter of the monitor or exposure times; default: what the curves carry (``normalise_relative_u``).

    Returns
    -------
    RepeatReport
        ``agree``, ``exposures`` (a ``RepeatTest`` each), ``set_aside`` (their numbers), ``scale_trend``, ``low_q_trend``,
        and ``findings`` in words. Two exposures can differ, but cannot say which is wrong.

    Raises
    ------
    InputError
        Fewer than two, other edges, no bin in common, no counts.

    Notes
    -----
    conditional distribution of Poisson counts given their sum; S. Holm, Scand. J. Statist. 6 (1979) 65.

    Examples
    --------
    >>> import sievelight as sl
    >>> map, mask = sl.pixel_map(sl.examples.geometry(), 96, 96), sl.examples.mask()
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=30), mask=mask)
    >>> frames = [sl.examples.frame(seed=k) for k in range(4)]
    >>> frames.append(sl.examples.frame(median_nm=9.0, seed=4))  # no repeat
    >>> report = sl.compare_repeats(averager.average(frame, name="tile") for frame in frames)
    >>> report.agree, report.set_aside
    (False, [4])
    """
    return _core.compare_repeats(list(exposures), alpha=alpha, scale_relative_u=scale_relative_u)


def find_spikes(frames: Iterable[Frame], *, false_per_exposure: float = 0.01) -> SpikeReport:
    """Pixels of one exposure far above what they count in the others: cosmic hits, sparks of the sensor.

    Parameters
    ----------
    frames : Frame, two or more
        Single exposures of one sample. With two a spike needs about 20 to 30 counts against none; five find a dozen.
    false_per_exposure : float
        Pixels without a spike that may be flagged in one exposure, expected; exact binomial test for every pixel.

    Returns
    -------
    SpikeReport
        ``masks`` (one an exposure, True = spike), ``spikes`` (exposure, row, column, counts, expected, probability),
        ``notes``.

    Raises
    ------
    InputError
        Fewer than two exposures, sums of exposures, unequal sizes.

    Examples
    --------
    >>> import sievelight as sl
    >>> frames = [sl.examples.frame(seed=k) for k in range(3)]
    >>> counts = frames[1].counts.copy()
    >>> counts[20, 70] += 300  # a cosmic hit
    >>> frames[1] = sl.frames.Frame(counts, exposure_s=100.0)
    >>> [(spike.exposure, spike.row, spike.column) for spike in sl.find_spikes(frames).spikes]
    [(1, 20, 70)]
    """
    return _core.find_spikes(arguments.frames(frames), false_per_exposure=false_per_exposure)


def remove_spikes(frames: Iterable[Frame], *, false_per_exposure: float = 0.01) -> list[Frame]:
    """The exposures, with the spikes of each in its mask.

    :func:`average` leaves a pixel that any exposure masks out of all of them: the pixel is dropped whole, so that leaving
    out its bright moment does not bias it.

    Parameters
    ----------
    frames, false_per_exposure : as for :func:`find_spikes`.

    Returns
    -------
    list of Frame

    Raises
    ------
    InputError
        As :func:`find_spikes`.

    Examples
    --------
    >>> import sievelight as sl
    >>> frames = [sl.examples.frame(seed=k) for k in range(3)]
    >>> counts = frames[1].counts.copy()
    >>> counts[20, 70] += 300  # a cosmic hit
    >>> frames[1] = sl.frames.Frame(counts, exposure_s=100.0)
    >>> [int(frame.masked.sum()) for frame in sl.remove_spikes(frames)]
    [0, 1, 0]
    """
    return _core.remove_spikes(arguments.frames(frames), false_per_exposure=false_per_exposure)
