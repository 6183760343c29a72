// SPDX-License-Identifier: GPL-3.0-or-later
/// Ring calibration without a start: from wavelength and pixel size alone.
#pragma once

#include "sievelight/geometry/calibrate.hpp"
#include "sievelight/geometry/ring_guess.hpp"

namespace sievelight {

/// Finds beam point and distance from the frame (ring_guess.hpp), then refines them as calibrate_rings does from a
/// start; of `options` the search ranges apply to that second step. Two rings are needed where no distance is known.
/// InputError for an impossible wavelength, pixel size or list; DataError when no sharp rings stand out, when they are
/// not this calibrant's (ordered pores, humps of a sample), when only one is in view, and when two distances explain
/// them equally well, both named; NumericalError when the fit does not settle.
RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const RingKnowledge& known,
                                const Calibrant& calibrant, const RingOptions& options = {});

}  // namespace sievelight
