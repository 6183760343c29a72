// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/holm.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

// By hand, alpha 0.05, p = 0.01, 0.04, 0.03: sorted 0.01 <= 0.05/3, 0.03 > 0.05/2, so the procedure stops there
// although 0.04 <= 0.05/1. Adjusted: 0.03, 0.06, 0.06. (Against statsmodels: tests/reference/test_equivalence.py.)
TEST(Holm, StopsAtTheFirstThatFails) {
  const HolmResult r = holm({0.01, 0.04, 0.03}, 0.05);
  EXPECT_TRUE(r.claimed[0]);
  EXPECT_FALSE(r.claimed[1]);
  EXPECT_FALSE(r.claimed[2]);
  EXPECT_NEAR(r.adjusted[0], 0.03, 1e-15);
  EXPECT_NEAR(r.adjusted[1], 0.06, 1e-15);
  EXPECT_NEAR(r.adjusted[2], 0.06, 1e-15);
  EXPECT_DOUBLE_EQ(r.level[0], 0.05 / 3);
  EXPECT_DOUBLE_EQ(r.level[2], 0.05 / 2);
  EXPECT_DOUBLE_EQ(r.level[1], 0.05);
}

TEST(Holm, LeavesASingleClaimAlone) {
  EXPECT_TRUE(holm({0.049}, 0.05).claimed[0]);
  EXPECT_TRUE(holm({}, 0.05).claimed.empty());
}

}  // namespace
}  // namespace sievelight
