// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/arctangent.hpp"

#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace sievelight {
namespace {

// Against the standard library's atan2: two units of the last place, in every octant and over many decades.
TEST(Arctangent, IsTheStandardLibrarys) {
  std::mt19937_64 random(8);
  std::uniform_real_distribution<double> angle(-pi, pi), decade(-12, 12);
  std::vector<double> x, y;
  for (int i = 0; i < 100000; ++i) {
    const double a = angle(random), r = std::pow(10.0, decade(random));
    x.push_back(r * std::cos(a));
    y.push_back(r * std::sin(a));
  }
  for (const double ratio : {0.0, 1e-300, 0.66, 0.6600001, 0.6599999, 1.0, 1e300})
    for (const double side : {1.0, -1.0}) {
      x.push_back(side);
      y.push_back(side * ratio);
      x.push_back(side);
      y.push_back(-side * ratio);
    }
  std::vector<double> got(x.size());
  arctangents(y.data(), x.data(), static_cast<Eigen::Index>(x.size()), got.data());
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double expected = y[i] == 0 && x[i] < 0 ? pi : std::atan2(y[i], x[i]);  // of -0 too: (-pi, pi]
    ASSERT_NEAR(got[i], expected, 2 * std::numeric_limits<double>::epsilon() * std::abs(expected))
        << "atan2(" << y[i] << ", " << x[i] << ")";
  }
}

TEST(Arctangent, OfTheCornersIsExact) {
  const double x[] = {0, 1, -1, 0, 0}, y[] = {0, 0, 0, 1, -1};
  double got[5];
  arctangents(y, x, 5, got);
  EXPECT_EQ(got[0], 0.0);
  EXPECT_EQ(got[1], 0.0);
  EXPECT_EQ(got[2], pi);
  EXPECT_EQ(got[3], pi / 2);
  EXPECT_EQ(got[4], -pi / 2);
}

}  // namespace
}  // namespace sievelight
