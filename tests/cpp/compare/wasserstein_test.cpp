// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/wasserstein.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

Eigen::VectorXd v(std::initializer_list<double> values) {
  Eigen::VectorXd out(static_cast<Eigen::Index>(values.size()));
  std::copy(values.begin(), values.end(), out.data());
  return out;
}

Eigen::VectorXd normal_cumulative(const Eigen::VectorXd& x, double sd) {
  return x.unaryExpr([sd](double t) { return 0.5 * std::erfc(-t / sd / std::sqrt(2.0)); });
}

// Source: manual of SciPy, scipy.stats.wasserstein_distance, its three examples.
TEST(Wasserstein, OfPointsIsThatOfTheScipyManual) {
  EXPECT_DOUBLE_EQ(wasserstein(v({0, 1, 3}), v({1, 1, 1}), v({5, 6, 8}), v({1, 1, 1})), 5.0);
  EXPECT_DOUBLE_EQ(wasserstein(v({0, 1}), v({3, 1}), v({0, 1}), v({2, 2})), 0.25);
  EXPECT_NEAR(wasserstein(v({3.4, 3.9, 7.5, 7.8}), v({1.4, 0.9, 3.1, 7.2}), v({4.5, 1.4}), v({3.2, 3.5})),
              4.078133143804786, 1e-14);
}

// Between N(0, 1) and N(0, 2^2): (2 - 1) E|Z| = sqrt(2/pi). Trapezoids of step 0.005 err by 1e-6.
TEST(Wasserstein, OfNormalsIsTheClosedForm) {
  const Eigen::VectorXd x = Eigen::VectorXd::LinSpaced(8001, -20, 20);
  EXPECT_NEAR(wasserstein(x, normal_cumulative(x, 1), normal_cumulative(x, 2)), std::sqrt(2 / pi), 1e-5);
}

TEST(Wasserstein, OfUniformsCrossingsAndItself) {
  const Eigen::VectorXd x = v({0, 1, 2});
  EXPECT_DOUBLE_EQ(wasserstein(x, v({0, 1, 1}), v({0, 0.5, 1})), 0.5);  // [0, 1] and [0, 2]
  EXPECT_DOUBLE_EQ(wasserstein(x, v({0, 0.5, 1}), v({0, 0.5, 1})), 0.0);
  // F - G runs from +0.5 to -0.5: two triangles of area 0.125.
  EXPECT_DOUBLE_EQ(wasserstein(v({0, 1}), v({0.5, 0.5}), v({0, 1})), 0.25);
  const Eigen::VectorXd a = v({0, 0.3, 1}), b = v({0, 0.8, 1});
  EXPECT_DOUBLE_EQ(wasserstein(x, a, b), wasserstein(x, b, a));
}

TEST(Wasserstein, RefusesWhatIsNoDistribution) {
  EXPECT_THROW(wasserstein(v({0, 1}), v({0, 1}), v({0, 1, 1})), InputError);
  EXPECT_THROW(wasserstein(v({0, 1}), v({-1, 1}), v({0}), v({1})), InputError);
  EXPECT_THROW(wasserstein(v({0, 1}), v({0, 0}), v({0}), v({1})), InputError);
}

}  // namespace
}  // namespace sievelight
