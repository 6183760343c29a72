// SPDX-License-Identifier: GPL-3.0-or-later
/// The coarse stage of a ring calibration: distance and beam centre at which the rings as a family stand out most.
/// Each ring alone may lie half-way to its neighbour when the start is 5 % off; all of them together do not.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/detector.hpp"

#include <Eigen/Core>

namespace sievelight {

struct RingSearchOptions {
  double relative = 0.08;  // distances searched: the start's, times 1 -+ this
  double reach_px = 12.0;  // centres searched: the start's, -+ this in column and row
};

struct RingSearchResult {
  DetectorGeometry geometry;   // the start with distance and centre moved
  double contrast = 0.0;       // squared contrast of the rings over its noise, summed over the rings
  double half_width_px = 0.0;  // of the window that met the rings best
  bool at_edge = false;        // the best distance or centre lies at the edge of what was searched
};

/// Method: the counts' square root (its noise is 1/2 whatever the counts) less its local mean is clipped, so that hot
/// spots and the beamstop's edge weigh no more than a ring; for every centre on a grid its radial profile is taken
/// once, and for every distance each ring of `two_theta_rad` scores the squared difference between the profile in its
/// window and beside it, over its variance, where positive. The start's tilt is kept. two_theta_rad: (n) rising, below
/// 80 degrees. Result with contrast 0 when no ring of the list falls onto the frame.
RingSearchResult search_rings(const Image& counts, const Mask& unusable, const DetectorGeometry& start,
                              const Eigen::VectorXd& two_theta_rad, const RingSearchOptions& options = {});

}  // namespace sievelight
