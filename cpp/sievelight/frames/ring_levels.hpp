// SPDX-License-Identifier: GPL-3.0-or-later
/// The level of counts on rings about a point, robust against what covers less than half of a ring.
/// Ring k holds the pixels with k - 1.5 <= r < k + 1.5, cut into at most 24 sectors of some dozen pixels. A sector's
/// level is its mean, so that it means something at any count; the ring's is the median of its sectors.
#pragma once

#include "sievelight/base/image.hpp"

#include <utility>
#include <vector>

namespace sievelight {

class RingLevels {
 public:
  /// center_px = (column, row), also outside of the frame. Only usable pixels count.
  RingLevels(const Image& counts, const Mask& usable, std::pair<double, double> center_px);

  double radius(Eigen::Index row, Eigen::Index column) const;
  Eigen::Index count() const { return static_cast<Eigen::Index>(rings_.size()); }
  /// Counts per pixel; 0 where pixels() is 0.
  double level(Eigen::Index ring) const { return rings_[static_cast<std::size_t>(ring)].level; }
  double pixels(Eigen::Index ring) const { return rings_[static_cast<std::size_t>(ring)].pixels; }
  /// The median of the sectors within an eighth of a turn to either side of this pixel; 0 where there are none.
  double local_level(Eigen::Index row, Eigen::Index column) const;

 private:
  struct Ring {
    std::vector<double> sectors;  // means; negative where there are too few pixels
    std::vector<double> around;   // medians over the quarter turn around each sector
    double level = 0.0, pixels = 0.0;
  };
  double turn(Eigen::Index row, Eigen::Index column) const;
  std::pair<double, double> center_;
  std::vector<Ring> rings_;
};

}  // namespace sievelight
