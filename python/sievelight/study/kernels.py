# SPDX-License-Identifier: GPL-3.0-or-later
"""Kernels of a study, made once for all curves on the same bins: only the weights differ from sample to sample."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Any

import numpy as np

from sievelight import curve as curves
from sievelight import distribution
from sievelight._core import Curve

KEPT = 4  # a kernel of 200 points and 220 sizes is a third of a megabyte; places of a changer have one each


class Kernels:
    """Kernels by what they depend on; the model and the window are the study's and the same for all."""

    def __init__(self) -> None:
        self._made: OrderedDict[tuple[bytes, ...], distribution.Kernel] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, curve: Curve, **options: Any) -> distribution.Kernel:
        """The kernel of a curve under options that `distribution.make_kernel` takes; InputError as that call."""
        key = tuple(
            np.ascontiguousarray(part).tobytes()
            for part in (
                curve.q_per_nm,
                curve.q_low_per_nm,
                curve.q_high_per_nm,
                curve.q_resolution_per_nm,
                curve.slit_length_per_nm,
                curve.slit_width_per_nm,
                curves.pointwise_u(curve) > 0,  # other points are left out
            )
        )
        with self._lock:  # threads of one worker wait for the first: it makes what they all need
            if key not in self._made:
                self._made[key] = distribution.make_kernel(curve, **options)
                if len(self._made) > KEPT:
                    self._made.popitem(last=False)
            self._made.move_to_end(key)
            return self._made[key]
