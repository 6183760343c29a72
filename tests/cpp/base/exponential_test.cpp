// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/exponential.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace sievelight {
namespace {

// Against the standard library's exp, over its whole range and closely around the places where the power of two steps.
TEST(Exponential, IsTheStandardLibrarys) {
  std::mt19937_64 random(9);
  std::uniform_real_distribution<double> wide(least_exponent, largest_exponent), narrow(-1, 1);
  std::vector<double> x{0.0, -0.0, 1.0, -1.0, 1e-300, -1e-17, least_exponent, largest_exponent};
  for (int i = 0; i < 100000; ++i) x.push_back(i % 2 ? wide(random) : narrow(random));
  for (int k = -1000; k <= 1000; ++k)
    for (const double off : {-1e-9, 0.0, 1e-9}) x.push_back((k + 0.5) * std::log(2.0) + off);
  std::vector<double> got(x.size());
  exponentials(x.data(), static_cast<Eigen::Index>(x.size()), got.data());
  for (std::size_t i = 0; i < x.size(); ++i)
    ASSERT_NEAR(got[i], std::exp(x[i]), std::numeric_limits<double>::epsilon() * std::exp(x[i])) << x[i];
  EXPECT_EQ(got[0], 1.0);
}

TEST(Exponential, StaysFiniteBeyondItsEnds) {
  double x[] = {-1e308, -800, 800, 1e308, -std::numeric_limits<double>::infinity()};
  exponentials(x, 5, x);  // in place
  EXPECT_NEAR(x[0] / std::exp(least_exponent), 1.0, 1e-15);
  EXPECT_EQ(x[1], x[0]);
  EXPECT_EQ(x[4], x[0]);
  EXPECT_NEAR(x[2] / std::exp(largest_exponent), 1.0, 1e-15);
  EXPECT_EQ(x[3], x[2]);
}

// The bits do not depend on where in a vector a number stands.
TEST(Exponential, IsTheSameAtEveryPlace) {
  std::vector<double> x(23, -1.2345), got(23);
  exponentials(x.data(), 23, got.data());
  for (const double value : got) EXPECT_EQ(value, got[0]);
}

}  // namespace
}  // namespace sievelight
