// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_places.hpp"

#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

TEST(RingPlaces, BlocksGrowWithTheFrameAndLeaveOutWhatIsUnusable) {
  Image counts = Image::Constant(40, 60, 9.0);
  Mask unusable = Mask::Constant(40, 60, false);
  counts(1, 1) = 1e6;
  unusable(1, 1) = true;
  unusable.block(10, 10, 2, 2).setConstant(true);
  EXPECT_EQ(make_blocks(counts, unusable).side, 1);
  const Blocks b = make_blocks(counts, unusable, 600.0);
  EXPECT_EQ(b.side, 2);
  EXPECT_NEAR(b.value(0, 0), std::sqrt(9.375), 1e-12);
  EXPECT_TRUE(std::isnan(b.value(5, 5)));
}

// Property: the stated variance is that of simulated counts. 9600 blocks: the variance's own relative standard
// deviation is sqrt(2/9600) = 1.4 %; four of them, and 3 % for the root's curvature at 20 counts a block.
TEST(RingPlaces, StateTheVarianceOfTheRoot) {
  const Image counts = testing_support::poisson(Image::Constant(240, 160, 5.0), 1);
  const Blocks b = make_blocks(counts, Mask::Constant(240, 160, false), 9600.0);
  ASSERT_EQ(b.side, 2);
  const double mean = b.value.mean(), variance = (b.value - mean).square().mean();
  EXPECT_NEAR(variance / b.variance.mean(), 1.0, 0.09);
}

TEST(RingPlaces, FlattenTakesALevelAwayAndClipsSpots) {
  Image counts = Image::Constant(60, 60, 100.0);
  counts(30, 30) = 1e6;
  const Places p = flatten(make_blocks(counts, Mask::Constant(60, 60, false)), 5);
  ASSERT_EQ(p.value.size(), 3600u);
  EXPECT_NEAR(p.value[0], 0.0, 1e-6);
  EXPECT_LT(*std::ranges::max_element(p.value), 20.0F);  // not the spot's 990
}

}  // namespace
}  // namespace sievelight
