// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/unusable_pixels.hpp"

#include "geometry/refusal.hpp"
#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

TEST(UnusablePixels, AreTheHotOnesAloneOrInPairs) {
  Image counts = testing_support::poisson(Image::Constant(40, 50, 20.0), 1);
  counts(10, 10) = 5000.0;
  counts(20, 30) = counts(20, 31) = 800.0;
  counts(0, 0) = 5000.0;
  const Mask bad = unusable_pixels(counts, Mask());
  EXPECT_TRUE(bad(10, 10) && bad(20, 30) && bad(20, 31) && bad(0, 0));
  EXPECT_EQ(bad.count(), 4);  // 8 standard deviations above twice a neighbour: none by chance in 2000
}

TEST(UnusablePixels, AreNotThoseOfARingOnePixelWide) {
  Image counts = Image::Constant(60, 60, 1.0);
  for (int i = 0; i < 720; ++i) {
    const double a = i * pi / 360.0;
    counts(static_cast<int>(std::lround(30 + 20 * std::sin(a))), static_cast<int>(std::lround(30 + 20 * std::cos(a)))) =
        1000.0;
  }
  EXPECT_EQ(unusable_pixels(counts, Mask()).count(), 0);
}

TEST(UnusablePixels, AreGapsAmongCountsButNotTheZerosOfAWeakFrame) {
  Image counts = testing_support::poisson(Image::Constant(60, 60, 40.0), 2);
  counts.middleRows(20, 7).setZero();
  counts(50, 50) = 0.0;
  const Mask bad = unusable_pixels(counts, Mask());
  EXPECT_EQ(bad.count(), 7 * 60 + 1);
  EXPECT_TRUE(bad(23, 0) && bad(50, 50));
  const Image weak = testing_support::poisson(Image::Constant(60, 60, 0.5), 3);
  ASSERT_GT((weak == 0.0).count(), 1000);
  EXPECT_EQ((unusable_pixels(weak, Mask()) && (weak == 0.0)).count(), 0);
}

TEST(UnusablePixels, AreTheGapsOfAFrameOfAFewCountsToo) {
  Image counts = testing_support::poisson(Image::Constant(100, 100, 5.0), 4);
  EXPECT_EQ(unusable_pixels(counts, Mask()).count(), 0);  // some 70 zeros by chance
  counts.middleRows(20, 7).setZero();
  const Mask bad = unusable_pixels(counts, Mask());
  EXPECT_EQ(bad.middleRows(20, 7).count(), 7 * 100);
  EXPECT_LT(bad.count(), 7 * 100 + 20);  // chance zeros that touch the gap go with it: 200 neighbours times exp(-5)
}

TEST(UnusablePixels, AreWhatIsNoCountAndWhatTheMaskSays) {
  Image counts = Image::Constant(10, 10, 5.0);
  counts(1, 1) = std::numeric_limits<double>::quiet_NaN();
  counts(2, 2) = -1.0;
  counts(3, 3) = std::numeric_limits<double>::infinity();
  Mask masked = Mask::Constant(10, 10, false);
  masked(4, 4) = true;
  const Mask bad = unusable_pixels(counts, masked);
  EXPECT_TRUE(bad(1, 1) && bad(2, 2) && bad(3, 3) && bad(4, 4));
  EXPECT_EQ(bad.count(), 4);
}

TEST(UnusablePixels, RefuseAMaskOfAnotherShape) {
  expect_refusal<InputError>([] { unusable_pixels(Image::Zero(10, 10), Mask::Constant(10, 12, false)); },
                             "mask of 10 rows and 12 columns", "own shape");
}

}  // namespace
}  // namespace sievelight
