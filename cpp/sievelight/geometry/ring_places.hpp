// SPDX-License-Identifier: GPL-3.0-or-later
/// A frame prepared for searches: block means in square roots of counts, and those less their surroundings.
#pragma once

#include "sievelight/base/image.hpp"

#include <vector>

namespace sievelight {

/// Block means of the usable pixels, as square roots of counts; NaN where nothing usable lies.
struct Blocks {
  int side = 1;    // pixels
  Image value;     // (rows, columns) of blocks
  Image variance;  // of value, from the counts
};

/// Square roots of counts less their surroundings.
struct Places {
  std::vector<float> x_px, y_px, value;  // apart, so that the loop over them runs several at a time
};

/// Blocks of 1 to 4 pixels a side, so that at most about most_blocks of them are left. The square root of a Poisson
/// number plus 3/8 has a nearly constant noise of 1/2 (F. J. Anscombe, Biometrika 35 (1948) 246).
Blocks make_blocks(const Image& counts, const Mask& unusable, double most_blocks = 2e5);

/// Less the mean of the usable values in a square of 2 half_box + 1 blocks, and clipped to the size that one value in
/// 200 exceeds, so that hot spots and the beamstop's edge weigh no more than a ring.
Places flatten(const Blocks& blocks, Eigen::Index half_box);

/// The size that a share of the values stays below.
float quantile_of_size(std::vector<float> values, double share);

}  // namespace sievelight
