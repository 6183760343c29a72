// SPDX-License-Identifier: GPL-3.0-or-later
/// The beam point from the direct beam itself: a spot through a semi-transparent beamstop, or a short exposure through
/// an attenuator.
#pragma once

#include "sievelight/base/image.hpp"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace sievelight {

struct BeamCenterOptions {
  std::optional<std::pair<double, double>> near_px;  // (column, row) to look around; without it the brightest spot
  double search_px = 20.0;                           // how far from near_px the spot may lie
};

struct BeamCenter {
  double x_px = 0.0, y_px = 0.0;              // column, row
  double u_x_px = 0.0, u_y_px = 0.0;          // standard uncertainty from the counts
  double sigma_x_px = 0.0, sigma_y_px = 0.0;  // width of the spot, one standard deviation
  double counts = 0.0, u_counts = 0.0;        // of the spot above the background
  double background = 0.0;                    // counts per pixel around it
  std::vector<std::string> warnings;
};

/// Centroid of the spot above the background found in a ring around it. The window is a circle of three times the
/// spot's width about the centroid, repeated until neither moves.
/// Var(x) = sum (x - centroid)^2 Var(counts) / (spot's counts)^2, Poisson counts (derivation: error propagation).
/// `masked` may be empty; hot pixels (unusable_pixels.hpp) are left out only where the spot is wider than they are: a
/// spot of a single pixel is refused. InputError for a place outside the frame; DataError when no spot stands out by
/// five standard deviations; NumericalError when the centroid does not settle.
BeamCenter find_beam_center(const Image& counts, const Mask& masked, const BeamCenterOptions& options = {});

}  // namespace sievelight
