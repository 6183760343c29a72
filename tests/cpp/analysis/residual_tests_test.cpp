// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/residual_tests.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

TEST(Runs, CountsChangesOfSign) {
  Eigen::VectorXd r(20);
  r << 1, 2, -1, -1, 3, 0, 4, -2, -2, -2, 1, 1, 1, -1, 2, 2, -1, -1, 1, 1;
  const Runs runs = runs_test(r);
  EXPECT_EQ(runs.count, 9);
  // 11 above, 8 below: 1 + 2 * 88 / 19.
  EXPECT_DOUBLE_EQ(runs.expected, 1 + 176.0 / 19.0);
  EXPECT_GT(runs.probability, 0.3);
  EXPECT_EQ(runs_test(Eigen::VectorXd::Ones(30)).probability, 1.0);
}

// Of 4000 draws of noise a tenth lies at or below a chance of 0.1, within the steps of a count (5 of 4000 are 0.47 %).
TEST(Runs, OfNoiseAreAsLikelyAsStated) {
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  int below = 0, far_below = 0;
  for (int k = 0; k < 4000; ++k) {
    Eigen::VectorXd r(120);
    for (double& value : r) value = normal(random);
    below += runs_test(r).probability <= 0.1;
    far_below += runs_test(r).probability <= 0.001;
  }
  EXPECT_NEAR(below / 4000.0, 0.1, 0.03);
  EXPECT_LE(far_below, 12);
}

TEST(Runs, SeesAWaveThatChiSquaredDoesNot) {
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  Eigen::VectorXd r(150);
  for (Eigen::Index i = 0; i < r.size(); ++i)
    r[i] = 0.6 * normal(random) + 1.1 * std::sin(0.06 * static_cast<double>(i));
  EXPECT_LT(r.squaredNorm() / 150, 1.2);  // within 2 sd of chi^2 = n
  EXPECT_LT(runs_test(r).probability, 1e-4);
}

}  // namespace
}  // namespace sievelight
