// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/ring_levels.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

TEST(RingLevels, AreNotPulledByWhatCoversLessThanHalfOfARing) {
  Image counts = Image::Constant(101, 101, 10.0);
  const Mask usable = Mask::Constant(101, 101, true);
  counts.block(0, 0, 101, 36).setZero();  // below half of every ring about the middle
  const RingLevels rings(counts, usable, {50, 50});
  for (Eigen::Index k : {5, 20, 45}) EXPECT_EQ(rings.level(k), 10) << k;
  EXPECT_EQ(rings.local_level(50, 90), 10);
  EXPECT_EQ(rings.local_level(50, 5), 0);  // there the quarter turn is dark
  EXPECT_NEAR(rings.radius(53, 54), 5, 1e-12);
}

TEST(RingLevels, MeanSomethingWhereMostPixelsAreZero) {
  Image counts = Image::Zero(200, 200);
  for (Eigen::Index i = 0; i < counts.size(); i += 10) counts.data()[i] = 1;
  const RingLevels rings(counts, Mask::Constant(200, 200, true), {99.5, 99.5});
  EXPECT_NEAR(rings.level(60), 0.1, 0.03);
}

TEST(RingLevels, ReachAroundABeamPointOutsideOfTheFrame) {
  const RingLevels rings(Image::Constant(50, 80, 3.0), Mask::Constant(50, 80, true), {-10, 25});
  EXPECT_EQ(rings.pixels(5), 0);
  EXPECT_GT(rings.pixels(15), 0);
  EXPECT_EQ(rings.level(15), 3);
}

}  // namespace
}  // namespace sievelight
