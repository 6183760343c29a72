// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/count_tails.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// With a level known from very many pixels the predictive distribution is Poisson: P(N > 0) = 1 - exp(-level).
TEST(CountTails, BecomePoissonWhereTheLevelIsKnown) {
  EXPECT_NEAR(chance_of_more_than(0, 2.0, 1e7), 1 - std::exp(-2.0), 1e-6);
  EXPECT_NEAR(chance_of_at_most(1, 2.0, 1e7), 3 * std::exp(-2.0), 1e-6);
}

// m = 1, level 1/2: r = 1 and p = 1/2, the geometric distribution: P(N > n) = 2^-(n + 1).
TEST(CountTails, AreWideWhereTheLevelIsKnownFromOnePixel) {
  EXPECT_NEAR(chance_of_more_than(3, 0.5, 1.0), 1.0 / 16, 1e-12);
  EXPECT_EQ(chance_of_more_than(-1, 0.5, 1.0), 1.0);
}

}  // namespace
}  // namespace sievelight
