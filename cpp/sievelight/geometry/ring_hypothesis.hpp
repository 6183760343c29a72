// SPDX-License-Identifier: GPL-3.0-or-later
/// How well a list of predicted rings explains the peaks seen along a line.
#pragma once

#include "sievelight/geometry/line_peaks.hpp"

#include <vector>

namespace sievelight {

struct PredictedRing {
  int order = 0;  // from 1
  double position_px = 0.0;
};

/// A hypothesis: where the rings would stand, and up to which distance from the centre its list holds every ring there
/// is. Along a radius the centre is at 0; along a strip it may be anywhere and rings stand on both sides of it.
struct RingHypothesis {
  std::vector<PredictedRing> rings;
  double center_px = 0.0;
  double complete_to_px = 0.0;
  double least_pixels = 8.0;  // as in line_contrast
};

struct RingMatch {
  double log_gain = 0.0;         // ln of the likelihood over that of peaks anywhere
  int matched = 0, missing = 0;  // rings met; rings that should have been seen beside those met, and were not
  int strays = 0;                // peaks inside the complete range that no ring explains
  std::vector<int> order;        // (peaks) of the ring met, 0 = none
  double rms_px = 0.0;           // of the matched peaks about their rings
};

/// Likelihood (derivation): each peak stands either at one of the n predicted rings in view (normal, its own u and
/// `slack`: 1 px and 0.3 % of the radius) or, once in twenty, anywhere in view; below the first ring, where the
/// beamstop's rim is, every other time. A ring that is not seen although its noise would show a quarter of the nearest
/// seen ring's contrast by six standard deviations costs a factor of ten; rings beyond the last one seen cost nothing,
/// since they fade. Peaks beyond the complete range cost a factor of 0.3: other reflections may lie there, but seldom
/// do.
RingMatch match_rings(const std::vector<LinePeak>& peaks, const LineProfile& profile, const RingHypothesis& hypothesis);

}  // namespace sievelight
