// SPDX-License-Identifier: GPL-3.0-or-later
/// Points on the rings: every ring cut into sectors, a peak measured in each.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/detector.hpp"

#include <vector>

namespace sievelight {

/// A ring to look for and how far around its predicted place.
struct RingWindow {
  int order = 0;
  double two_theta_rad = 0.0;
  double half_width_px = 0.0;
  double sigma_px = 0.0;  // width of the ring where known, else 0
};

struct RingPoint {
  int order = 0;
  double x_px = 0.0, y_px = 0.0;  // where the ring's crest crosses the sector
  double u_px = 0.0;              // standard uncertainty along the radius, from the counts
  double sigma_px = 0.0;          // width of the ring there
  double azimuth_rad = 0.0;
  double sector_rad = 0.0;  // width of the sector in azimuth
};

/// Points of all rings, in the order of `windows` and, in a ring, of azimuth. Sectors are 2 degrees or 8 pixels wide,
/// whichever is more, and up to 16 times wider on a ring too weak for that. A sector's peak counts from 5 standard
/// deviations on; a ring from three such sectors and a fifth of those in view.
/// beam_sigma_px: width (one standard deviation) of the round blur by beam and pixel. Blurring a circle of radius R
/// draws its crest inwards by beam_sigma^2 / (2 R) (derivation: the two-dimensional Gaussian of a ring goes as exp(-(r
/// - R)^2/(2 s^2)) / sqrt(r R)); the points are moved back by that much.
std::vector<RingPoint> find_ring_points(const Image& counts, const Mask& unusable, const DetectorGeometry& geometry,
                                        const std::vector<RingWindow>& windows, double beam_sigma_px = 0.0);

}  // namespace sievelight
