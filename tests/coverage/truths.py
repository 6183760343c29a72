# SPDX-License-Identifier: GPL-3.0-or-later
"""The shapes on which coverage is reported: twelve on which methods were chosen, and shapes of our own held out from that.

Sharp-edged ones (box, triangle) are a class of their own: a smoothness prior cannot hold edges.
"""

import numpy as np
from simulate import DIAMETER_NM, LN_D, STEP, log_normal, schulz

TUNED = {
    "log-normal 8 nm, 0.1": log_normal(8, 0.1),
    "log-normal 8 nm, 0.2": log_normal(8, 0.2),
    "log-normal 8 nm, 0.4": log_normal(8, 0.4),
    "log-normal 20 nm, 0.1": log_normal(20, 0.1),
    "log-normal 20 nm, 0.2": log_normal(20, 0.2),
    "log-normal 20 nm, 0.4": log_normal(20, 0.4),
    "6 + 25 nm, 1:1": log_normal(6, 0.15, 1 / 2) + log_normal(25, 0.15, 1 / 2),
    "6 + 25 nm, 1:5": log_normal(6, 0.15, 1 / 6) + log_normal(25, 0.15, 5 / 6),
    "6 + 25 nm, 5:1": log_normal(6, 0.15, 5 / 6) + log_normal(25, 0.15, 1 / 6),
    "Schulz 12 nm, 0.3": schulz(12, 0.3),
    "15 nm, 3 %": log_normal(15, 0.03),
    "box 8 to 16 nm": np.where((DIAMETER_NM >= 8) & (DIAMETER_NM <= 16), 1.0, 0.0),
}


def _gaussian(mean_nm, sd_nm):
    return DIAMETER_NM * np.exp(-0.5 * ((DIAMETER_NM - mean_nm) / sd_nm) ** 2)


def _two_sided(mode_nm, below, above):
    x = LN_D - np.log(mode_nm)
    return np.exp(-0.5 * (x / np.where(x < 0, below, above)) ** 2)


def _wings(mode_nm, below, above, sharpness):
    """A power law on both sides of a mode: D^below up to it, D^-above beyond."""
    x = LN_D - np.log(mode_nm)
    return (np.exp(-below * x * sharpness) + np.exp(above * x * sharpness)) ** (-1 / sharpness)


HELD_OUT = {
    "8 + 12.5 nm shoulder": log_normal(8, 0.12, 0.65) + log_normal(12.5, 0.12, 0.35),
    "Gaussian 14 nm, 3 nm": _gaussian(14, 3),
    "left-skewed 12 nm": _two_sided(14, 0.35, 0.12),
    "right-skewed 9 nm": _two_sided(8, 0.12, 0.4),
    "three modes 4, 10, 28 nm": log_normal(4, 0.15, 1 / 3) + log_normal(10, 0.15, 1 / 3) + log_normal(28, 0.15, 1 / 3),
    "broad 10 nm + narrow 15 nm": log_normal(10, 0.4, 0.6) + log_normal(15, 0.06, 0.4),
    "power-law wings 12 nm": _wings(12, 4, 5, 1.5),
    "triangle 8 to 20 nm": np.clip(1 - np.abs(DIAMETER_NM - 14) / 6, 0, None) * DIAMETER_NM,
}
SHARP = ("box 8 to 16 nm", "triangle 8 to 20 nm")
NOISES = (0.01, 0.03, 0.10)


def shape(name):
    """Volume per ln D of a truth by its name, integral 1."""
    h = (TUNED | HELD_OUT)[name]
    return h / (h.sum() * STEP)
