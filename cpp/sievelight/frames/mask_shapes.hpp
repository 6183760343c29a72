// SPDX-License-Identifier: GPL-3.0-or-later
/// Masks that are drawn: rectangle, circle, polygon, and what lies in a range of counts.
/// Pixel coordinates: x = column, y = row, from 0, pixel centres at integers. A pixel is covered when its centre lies
/// inside the shape or on its edge. `outside` = mask everything but the shape.
/// InputError when a shape is impossible or covers no pixel of the detector, and when nothing would be left to use.
#pragma once

#include "sievelight/base/image.hpp"

#include <utility>
#include <vector>

namespace sievelight {

struct DetectorShape {
  Eigen::Index rows = 0, columns = 0;
};

Mask mask_rectangle(DetectorShape shape, std::pair<double, double> x_px, std::pair<double, double> y_px,
                    bool outside = false);

Mask mask_circle(DetectorShape shape, std::pair<double, double> center_px, double radius_px, bool outside = false);

/// Corners in turn, the last joined to the first; where the outline crosses itself, by the even-odd rule.
Mask mask_polygon(DetectorShape shape, const std::vector<std::pair<double, double>>& corners_px, bool outside = false);

/// Pixels whose counts lie in [low, high]; infinite limits are open. What is not finite is never in the range. An empty
/// result is no error.
Mask mask_values(const Image& counts, double low, double high, bool outside = false);

/// `covered`, or its complement; InputError naming `what` when nothing is left.
Mask finish_mask(Mask covered, bool outside, const char* what);

}  // namespace sievelight
