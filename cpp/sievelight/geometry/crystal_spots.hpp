// SPDX-License-Identifier: GPL-3.0-or-later
/// Reflections of single crystals (a substrate, a window, a grain) on a frame: compact spots far above their ring.
/// A pixel is held against its neighbours on the same q, to either side along the ring, beyond a gap as wide as a spot.
/// Their counts are carried over with the ring's own profile, so a steep fall in q does not count as excess. On each
/// side the level is the mean of two blocks of neighbours, or, where the nearer block is significantly higher, that one
/// and its rise once more: so texture that varies along the ring over more than about two spot widths, and the pattern
/// of an oriented sample, raise no alarm. The higher side decides. A pixel is the seed of a spot when it exceeds that
/// level `contrast` times and the chance of such a count, from the predictive distribution of count_tails.hpp, is below
/// false_alarm divided by the number of pixels. Around seeds, connected pixels join whose own chance is below 1e-3;
/// then the search is repeated without what was found, so that the flanks of a strong spot are found too. Source:
/// derivation.
#pragma once

#include "sievelight/geometry/pixel_map.hpp"

#include <vector>

namespace sievelight {

struct SpotOptions {
  double false_alarm = 0.01;  // chance that a frame without spots shows one; measured in the tests
  double contrast = 1.5;      // least ratio to the level of the ring beside it; squared where one side is missing
  double spot_px = 8.0;       // widest spot, across
  int margin_px = 1;          // added around each spot
};

struct CrystalSpot {
  double x_px = 0.0, y_px = 0.0;  // centroid of the excess: column, row
  double q_per_nm = 0.0;          // there
  double excess_counts = 0.0;     // above the ring's level
  double ratio = 0.0;             // of its highest pixel to the ring's level
  Eigen::Index pixels = 0;        // without the margin
};

struct CrystalSpots {
  Mask mask;                       // (rows, columns) the spots with their margin
  std::vector<CrystalSpot> spots;  // the strongest first
};

/// `masked` may be empty. Pixels with fewer than 8 neighbours on both sides together are not judged,
/// nor are those so near to the beam point that half a spot spans 30 degrees.
/// InputError for unlike shapes or impossible options.
CrystalSpots find_crystal_spots(const Image& counts, const Mask& masked, const PixelMap& map,
                                const SpotOptions& options = {});

}  // namespace sievelight
