// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/smoothness.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

TEST(Smoothness, IgnoresPolynomialsBelowItsOrder) {
  const Eigen::VectorXd t = Eigen::VectorXd::LinSpaced(20, 0, 19);
  const Eigen::VectorXd line = 3 - 2 * t.array(), parabola = t.array().square();
  EXPECT_NEAR((difference_matrix(20, 2) * line).norm(), 0, 1e-12);
  EXPECT_NEAR((difference_matrix(20, 2) * parabola - 2 * Eigen::VectorXd::Ones(18)).norm(), 0, 1e-12);
  EXPECT_NEAR((difference_matrix(20, 3) * parabola).norm(), 0, 1e-12);
}

// One and the same function on nodes half as far apart: strength * sum of squared differences must not change, so the
// range must move by 2^(2 order - 1).
TEST(Smoothness, MeansTheSameOnEveryGrid) {
  for (const int order : {2, 3}) {
    const double step = std::log(10.0) / 60;
    const Range coarse = ln_strength_range(step, order), fine = ln_strength_range(step / 2, order);
    EXPECT_NEAR(fine.low - coarse.low, (2 * order - 1) * std::log(2.0), 1e-12);
    EXPECT_NEAR(fine.high - coarse.high, (2 * order - 1) * std::log(2.0), 1e-12);
    const auto roughness = [&](double du, int nodes) {
      Eigen::VectorXd g(nodes);
      for (int j = 0; j < nodes; ++j) g[j] = std::sin(3 * du * j);
      return (difference_matrix(nodes, order) * g).squaredNorm();
    };
    const double ratio = std::exp(fine.low) * roughness(step / 2, 401) / (std::exp(coarse.low) * roughness(step, 201));
    EXPECT_NEAR(ratio, 1.0, 0.02);  // the two sums differ by end cells, 1/200
  }
}

TEST(Smoothness, RefusesOtherOrders) {
  EXPECT_THROW(difference_matrix(20, 4), InputError);
  EXPECT_THROW(difference_matrix(2, 2), InputError);
}

}  // namespace
}  // namespace sievelight
