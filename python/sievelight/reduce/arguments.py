# SPDX-License-Identifier: GPL-3.0-or-later
"""How the calls of this folder take their arguments: numbers, pairs, frames, factors."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sievelight._core import AbsoluteScale, Averaged, BackgroundFactor, Curve, Factor, Frame, Measured, Transmission

Floats = NDArray[np.float64]
Pair = tuple[float, float]


def mask(mask: ArrayLike | None) -> NDArray[np.bool_] | None:
    return None if mask is None else np.asarray(mask, bool)


def frames(frames: Frame | Iterable[Frame]) -> list[Frame]:
    return [frames] if isinstance(frames, Frame) else list(frames)


def reading(value: float | Pair) -> Pair:
    return (float(value[0]), float(value[1])) if isinstance(value, Sequence) else (float(value), 0.0)


def factor(value: Factor | Transmission | AbsoluteScale | BackgroundFactor | float) -> Factor:
    if isinstance(value, Factor):
        return value
    return value.factor if hasattr(value, "factor") else Factor(float(value))


def measured(
    item: Averaged | Measured | Curve, name: str, transmission: Transmission | Factor | float | None
) -> Measured:
    if isinstance(item, Measured):
        return item
    if isinstance(item, Averaged):
        name = item.name
    curve = item if isinstance(item, Curve) else item.curve
    share = item.azimuth_share if isinstance(item, Averaged) else None
    return Measured(name, curve, None if transmission is None else factor(transmission), share)
