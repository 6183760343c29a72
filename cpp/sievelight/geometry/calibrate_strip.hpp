// SPDX-License-Identifier: GPL-3.0-or-later
/// Distance and beam point of a strip detector, one row or one column of pixels through the beam, from a calibrant.
#pragma once

#include "sievelight/geometry/calibrate.hpp"
#include "sievelight/geometry/ring_guess.hpp"

namespace sievelight {

/// Peaks along the strip, on one side of the beam or on both, give distance and the beam's place on the strip; the
/// result is that of calibrate_rings with "rings" of one or two points, `parameters` distance_mm and beam_center_x_px
/// (or _y_px for a column of pixels), so that a caller needs no branch. The beam is taken to cross the middle of the
/// strip's height. Of `options` max_order alone is used. Every pairing of two peaks with two rings is a hypothesis
/// (match_rings); a peak or a hidden stretch where the beam would be speaks for it. Peaks are then fitted as in
/// calibrate_rings and the two parameters by linear least squares, its covariance scaled by the scatter where that is
/// larger than the counts'. A line-shaped beam much longer than the strip is high draws peaks inwards: calibrate with a
/// short line. InputError for a frame that is no strip or an impossible wavelength or pixel size; DataError when no
/// sharp peaks stand out, when they are not the calibrant's, and when two geometries explain them equally well, both
/// named.
RingCalibration calibrate_strip(const Image& counts, const Mask& masked, const RingKnowledge& known,
                                const Calibrant& calibrant, const RingOptions& options = {});

}  // namespace sievelight
