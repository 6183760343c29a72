# SPDX-License-Identifier: GPL-3.0-or-later
"""What the errors of many samples share, all pairs at once.

For one pair the law is `curve.covariance_of_summaries`: J_a C_ab J_b, summed over the causes that both carry. With a
thousand samples that is half a million pairs; on the same bins they are a few products of matrices.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sievelight import curve as curves
from sievelight._core import Curve

Array = NDArray[np.float64]


def covariance_of_all(influences: Sequence[Array], measured: Sequence[Curve]) -> Array:
    """(n, n) of n summaries through the causes their curves share, J_a C_ab J_b for every pair, each with itself too.

    influences : of each summary on its curve's points.  The private parts take no part (see
    `curve.covariance_of_summaries`, which this equals to rounding).  The causes are sorted, so that the sum does not
    depend on the order in which they were found.
    Raises InputError as that call does: bins that overlap without being the same, an id with two kinds.
    """
    n = len(measured)
    result = np.zeros((n, n))
    groups: dict[bytes, list[int]] = {}
    for i, c in enumerate(measured):
        edges = (c.q_low_per_nm, c.q_high_per_nm) if c.q_low_per_nm.size == c.q_per_nm.size else (c.q_per_nm,)
        key = b"|".join(np.ascontiguousarray(part).tobytes() for part in edges)
        groups.setdefault(key, []).append(i)
    sets = list(groups.values())
    for number, members in enumerate(sets):
        result[np.ix_(members, members)] = _on_same_bins(
            [influences[i] for i in members], [measured[i] for i in members]
        )
        for others in sets[:number]:  # few: a sample that lost a bin
            for i in members:
                for j in others:
                    result[i, j] = result[j, i] = curves.covariance_of_summaries(
                        influences[i], measured[i], influences[j], measured[j]
                    )
    return result


def _on_same_bins(influences: list[Array], measured: list[Curve]) -> Array:
    """Coherent causes: outer product of J u; pointwise ones: the same, point by point."""
    n, points = len(measured), measured[0].q_per_nm.size
    carriers: dict[str, list[int]] = {}
    causes = [dict(c.causes) for c in measured]
    for i, own in enumerate(causes):
        for cause_id in own:
            carriers.setdefault(cause_id, []).append(i)
    result = np.zeros((n, n))
    for cause_id in sorted(carriers):
        members = carriers[cause_id]
        first = causes[members[0]][cause_id].kind
        for i in members:
            if causes[i][cause_id].kind != first or len(influences[i]) != points:  # the pair's own call has the words
                curves.covariance_of_summaries(influences[members[0]], measured[members[0]], influences[i], measured[i])
        rows = np.array([influences[i] * causes[i][cause_id].u for i in members])
        if first == "coherent":
            rows = rows.sum(axis=1, keepdims=True)
        result[np.ix_(members, members)] += rows @ rows.T
    return result
