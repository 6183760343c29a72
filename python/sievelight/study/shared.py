# SPDX-License-Identifier: GPL-3.0-or-later
"""What all measurements of a study share: geometry, mask, bins, corrections, and the reduced shared measurements.

The same mask and bins serve every sample, so that curves can be subtracted and compared point by point and a counting
error of a shared frame means the same in all of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight._core import DetectorGeometry, Factor, PixelMap
from sievelight.study.loading import Loaded
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


@dataclass(frozen=True)
class View:
    """The detector as one place of the changer sees it."""

    geometry: DetectorGeometry
    map: PixelMap
    averager: Any
    shifts: list[Any]  # how the bins move with each cause of the calibration's error


@dataclass
class Shared:
    """Everything that the samples of a study have in common."""

    settings: Settings
    folder: Path
    masked: NDArray[np.bool_]
    view: View  # of the calibrant's place
    places: dict[str, View] = field(default_factory=dict)  # of places of the changer with a known offset
    calibration: dict[str, Any] = field(default_factory=dict)
    corrections: dict[str, Any] = field(default_factory=dict)  # of the pixels: what the averager was made with
    darks: dict[str, Any] = field(default_factory=dict)  # name -> Frame, summed
    beams: dict[str, Loaded] = field(default_factory=dict)  # name -> exposures of the direct beam
    beam_rows: dict[str, Measurement] = field(default_factory=dict)
    empty: Measurement | None = None  # the row of the empty beam, which transmissions are relative to
    dispersants: dict[str, Any] = field(default_factory=dict)  # name -> Absolute
    averaged: dict[str, Any] = field(default_factory=dict)  # name -> Averaged of backgrounds, empty beams, standards
    transmissions: dict[str, Any] = field(default_factory=dict)
    scale: Factor | None = None
    scale_facts: dict[str, Any] = field(default_factory=dict)
    normalize_by: str = "exposure"
    slit: Any = None  # profile of a line-shaped beam
    shown_by: str = ""  # the row whose frame gave mask and nominal geometry

    @property
    def geometry(self) -> DetectorGeometry:
        """That of the calibrant's place."""
        return self.view.geometry

    def seen_from(self, m: Measurement) -> View:
        """The detector as a row's place in the changer sees it."""
        return self.places.get(m.text.get("position", ""), self.view)
