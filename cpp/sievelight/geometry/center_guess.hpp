// SPDX-License-Identifier: GPL-3.0-or-later
/// Where the beam may meet the detector, from the frame alone: everything round about the beam has its slopes along
/// the radius, rings as well as the scattering that falls from the beam outwards.
#pragma once

#include "sievelight/geometry/ring_places.hpp"

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

namespace sievelight {

struct CenterGuess {
  double x_px = 0.0, y_px = 0.0;  // column, row; may lie outside the frame
  double sharpness = 0.0;         // of the radial profile about it: squared means over their variance, less its bins
};

struct CenterGuessOptions {
  double aspect = 1.0;                               // height of a pixel over its width
  double beyond = 1.5;                               // centres looked for so many frame sizes beyond the frame
  std::optional<std::pair<double, double>> near_px;  // (column, row) of a centre known within near_reach_px
  double near_reach_px = 25.0;
  std::size_t most = 3;  // guesses returned
};

/// Guesses, the sharpest first; empty when no slope stands out of the noise.
/// Method: planes fitted in Gaussian windows of three sizes give a slope and its noise for every block (a masked gap
/// only shortens the window). Slopes of more than five standard deviations vote: a centre gets from each vote a bell of
/// the angle between the slope and the line to it, less what chance would give, so that no place is favoured by the
/// frame's shape. The best few are then moved to where the radial profile of the flattened frame is sharpest, in steps
/// along and across the mean radius that distort the arcs in view alike.
std::vector<CenterGuess> guess_centers(const Blocks& blocks, const CenterGuessOptions& options = {});

}  // namespace sievelight
