// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/weights.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

TEST(PointWeights, FollowAPowerLawUpToTheEnds) {
  const Eigen::VectorXd q = log_grid(0.1, 10.0, 60);
  Curve curve = bare(q, q.array().pow(-4));
  curve.private_u = q.array().pow(-2);
  const PointWeights weights = point_weights(curve);
  // A power law on a logarithmic grid is a straight line in log(variance): unchanged to rounding.
  EXPECT_LT((weights.smooth.array() / weights.variance.array() - 1.0).abs().maxCoeff(), 1e-10);
}

// The weighted mean of Poisson counts of mean 20 with weights 1/N is N's harmonic mean, low by about 1/20 = 5 % (Knoll,
// Radiation Detection, weights of Poisson data; from memory). Smoothed over seven, about a seventh of it is left.
TEST(PointWeights, RemoveMostOfTheBiasOfCountsWeightedByThemselves) {
  std::mt19937_64 random(2);
  const Eigen::VectorXd q = Eigen::VectorXd::LinSpaced(20000, 1.0, 2.0);
  Curve curve = bare(q, q);
  for (Eigen::Index i = 0; i < q.size(); ++i) {
    curve.intensity[i] = std::poisson_distribution<int>(20.0)(random);
    curve.private_u[i] = std::sqrt(std::max(1.0, curve.intensity[i]));
  }
  const PointWeights weights = point_weights(curve);
  const auto mean = [&](const Eigen::VectorXd& variance) {
    return curve.intensity.cwiseQuotient(variance).sum() / variance.cwiseInverse().sum();
  };
  EXPECT_NEAR(mean(weights.variance), 19.0, 0.15);  // the defect is there; sd of the mean is 0.03
  EXPECT_NEAR(mean(weights.smooth), 20.0, 0.25);
}

TEST(PointWeights, GuessTheNoiseOfACurveWithoutUncertainties) {
  std::mt19937_64 random(6);
  std::normal_distribution<double> normal;
  const Eigen::VectorXd q = log_grid(0.1, 10.0, 300);
  Curve curve = bare(q, (1.0 + q.array().square()).pow(-2));
  for (double& intensity : curve.intensity) intensity *= 1.0 + 0.03 * normal(random);
  const PointWeights weights = point_weights(curve);
  EXPECT_FALSE(weights.known);
  // A median of 298 correlated values is good to some 10 %; 30 % is three of them.
  EXPECT_NEAR(std::sqrt(weights.variance[150]) / curve.intensity[150], 0.03, 0.009);
}

// White residuals of sd 2: variance 4, to 10 % with 1000 of them. A slow ripple of the same size counts many times
// more, (1 + r) / (1 - r) with r = cos of the step: 400 for a step of 0.1.
TEST(ScatterOfResiduals, CountsWhatDoesNotAverageOut) {
  std::mt19937_64 random(14);
  std::normal_distribution<double> normal;
  Eigen::ArrayXd noise(1000), ripple(1000);
  for (int i = 0; i < 1000; ++i) noise[i] = 2.0 * normal(random), ripple[i] = std::sin(0.1 * i);
  EXPECT_NEAR(scatter_of_residuals(noise, 998), 4.0, 0.6);
  EXPECT_NEAR(scatter_of_residuals(ripple, 998) / 0.5, (1 + std::cos(0.1)) / (1 - std::cos(0.1)), 100.0);
  EXPECT_EQ(scatter_of_residuals(Eigen::ArrayXd::Zero(5), 3), 0.0);
}

TEST(PointWeights, RefuseACurveWithAFewCertainPoints) {
  Curve curve = bare(log_grid(0.1, 1.0, 10), Eigen::VectorXd::Ones(10));
  curve.private_u = Eigen::VectorXd::Constant(10, 0.1);
  curve.private_u[3] = 0.0;
  try {
    point_weights(curve);
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.problem().find("1 of 10 points"), std::string::npos) << error.what();
    EXPECT_NE(error.problem().find("0.2154"), std::string::npos) << error.what();
  }
}

}  // namespace
}  // namespace sievelight
