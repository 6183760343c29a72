// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_search.hpp"

#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::RingScenery;

/// Ten rings 37 px apart and the beam point left of the frame: at 5 % off in distance ring ten lands half-way to its
/// neighbour, so that single rings mislead.
RingScenery many_rings() {
  RingScenery s{.truth = {.wavelength_nm = 0.0734,
                          .distance_mm = 514.0,
                          .beam_center_x_px = -5.4,
                          .beam_center_y_px = 85.9,
                          .pixel_size_x_mm = 0.172,
                          .pixel_size_y_mm = 0.172},
                .rows = 195,
                .columns = 400};
  s.d_nm = 5.838 / Eigen::ArrayXd::LinSpaced(10, 1.0, 10.0);
  s.sigma_per_nm = 0.04;
  s.amplitude = 60.0;
  return s;
}

Eigen::VectorXd angles(const RingScenery& s) {
  return 2.0 * (s.truth.wavelength_nm / 2.0 * s.d_nm.cwiseInverse()).array().asin();
}

TEST(RingSearch, ComesWithinReachOfTheRingsFromEveryCornerOfItsDesign) {
  const RingScenery s = many_rings();
  Image counts = testing_support::poisson(expected_rings(s), 1);
  counts.block(40, 60, 3, 3).setConstant(1e6);  // a hot spot too large to be a hot pixel
  const Mask none = Mask::Constant(s.rows, s.columns, false);
  for (const double stretch : {0.95, 1.05})
    for (int turn = 0; turn < 8; ++turn) {
      DetectorGeometry start = s.truth;
      start.distance_mm *= stretch;
      start.beam_center_x_px += 10.0 * std::cos(turn * pi / 4.0);
      start.beam_center_y_px += 10.0 * std::sin(turn * pi / 4.0);
      const RingSearchResult found = search_rings(counts, none, start, angles(s));
      // The next stage needs a third of the 37 px between rings at the outermost, 370 px: 2 % and a few px are plenty.
      EXPECT_NEAR(found.geometry.distance_mm / s.truth.distance_mm, 1.0, 0.01);
      EXPECT_NEAR(found.geometry.beam_center_x_px, s.truth.beam_center_x_px, 3.0);
      EXPECT_NEAR(found.geometry.beam_center_y_px, s.truth.beam_center_y_px, 3.0);
      EXPECT_FALSE(found.at_edge);
    }
}

TEST(RingSearch, SaysWhenTheBestLiesAtTheEdge) {
  const RingScenery s = many_rings();
  DetectorGeometry start = s.truth;
  start.beam_center_y_px += 20.0;
  const Mask none = Mask::Constant(s.rows, s.columns, false);
  EXPECT_TRUE(search_rings(expected_rings(s), none, start, angles(s)).at_edge);
}

TEST(RingSearch, FindsNothingWhereAllIsMasked) {
  const RingScenery s = many_rings();
  const Mask all = Mask::Constant(s.rows, s.columns, true);
  EXPECT_EQ(search_rings(Image::Constant(s.rows, s.columns, 5.0), all, s.truth, angles(s)).contrast, 0.0);
}

}  // namespace
}  // namespace sievelight
