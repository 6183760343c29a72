// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/gauss_rule.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Source: a rule of n points is exact for polynomials up to 2 n - 1 (C. F. Gauss 1814, from memory).
TEST(GaussRule, IsExactForPolynomials) {
  for (const std::size_t n : {1u, 8u, 32u}) {
    const GaussRule& rule = gauss_rule(n);
    double sum = 0;
    for (std::size_t k = 0; k < n; ++k) sum += rule.weight[k] * std::pow(rule.at[k], 2.0 * static_cast<double>(n) - 1);
    EXPECT_NEAR(sum, 1 / (2.0 * static_cast<double>(n)), 1e-14);
  }
}

TEST(GaussRule, IsCutToWhatThereIs) {
  EXPECT_EQ(gauss_rule(0).at.size(), 1u);
  EXPECT_EQ(gauss_rule(500).at.size(), 64u);
}

}  // namespace
}  // namespace sievelight
