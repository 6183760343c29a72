// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/diagnose.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace sievelight {
namespace {

std::vector<Eigen::VectorXd> autoregressive(double rho, int chains, int draws, double shift = 0) {
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  std::vector<Eigen::VectorXd> out;
  for (int c = 0; c < chains; ++c) {
    Eigen::VectorXd v(draws);
    double x = normal(random);
    for (double& value : v) value = (x = rho * x + std::sqrt(1 - rho * rho) * normal(random)) + c * shift;
    out.push_back(v);
  }
  return out;
}

// Source: an AR(1) series of n draws is worth n (1 - rho) / (1 + rho) (textbook). The estimate itself scatters by about
// 5 % for 4 x 5000 draws.
TEST(Diagnose, CountsTheWorthOfCorrelatedDraws) {
  EXPECT_NEAR(effective_draws(autoregressive(0.0, 4, 5000)) / 20000.0, 1.0, 0.1);
  EXPECT_NEAR(effective_draws(autoregressive(0.8, 4, 5000)) / (20000.0 * 0.2 / 1.8), 1.0, 0.15);
  EXPECT_NEAR(effective_draws(autoregressive(0.95, 4, 5000)) / (20000.0 * 0.05 / 1.95), 1.0, 0.3);
}

TEST(Diagnose, SeesChainsThatDisagree) {
  EXPECT_LT(split_r_hat(autoregressive(0.5, 4, 2000)), 1.01);
  // Four chains a standard deviation apart: between-chain variance 5/3, so R-hat is about sqrt(1 + 5/3 * 4/3...) > 1.4.
  EXPECT_GT(split_r_hat(autoregressive(0.5, 4, 2000, 1.0)), 1.4);
  std::vector<Eigen::VectorXd> drifting = autoregressive(0.0, 4, 2000);
  for (auto& chain : drifting) chain += Eigen::VectorXd::LinSpaced(2000, -2, 2);
  EXPECT_GT(split_r_hat(drifting), 1.3);  // agree in the whole, not in halves
}

TEST(Diagnose, SummarisesANormalDistribution) {
  Eigen::VectorXd v = autoregressive(0.0, 1, 200000)[0];
  const Estimate e = summarise(v);
  // Standard error of a 2.5 % quantile of 2e5 normal draws is 0.006.
  EXPECT_NEAR(e.value, 0, 0.02);
  EXPECT_NEAR(e.u, 1, 0.01);
  EXPECT_NEAR(e.band68.high, 1, 0.02);
  EXPECT_NEAR(e.band95.low, -1.95996, 0.03);
}

TEST(Diagnose, InterpolatesQuantilesAndLeavesOutMissingDraws) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_DOUBLE_EQ(quantile(Eigen::Vector4d(4, 1, 3, 2), 0.5), 2.5);
  EXPECT_DOUBLE_EQ(quantile(Eigen::Vector4d(4, nan, 3, 2), 0.5), 3);
  EXPECT_TRUE(std::isnan(quantile(Eigen::VectorXd::Constant(3, nan), 0.5)));
}

}  // namespace
}  // namespace sievelight
