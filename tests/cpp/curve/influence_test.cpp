// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/influence.hpp"

#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::VectorXd;

VectorXd some_influence(const Curve& curve) { return (3 * curve.q_per_nm.array()).sin(); }

// The same numbers through the (n, n) matrices that the functions avoid; rounding only.
TEST(Influence, AgreesWithTheFullCovariance) {
  const Curve a = some_curve(), b = another_curve();
  const VectorXd ja = some_influence(a), jb = some_influence(b).reverse();
  EXPECT_NEAR(variance_of_summary(ja, a), ja.dot(covariance(a) * ja), 1e-12);
  EXPECT_NEAR(covariance_of_summaries(ja, a, jb, b), ja.dot(covariance(a, b) * jb), 1e-12);
  EXPECT_NEAR(covariance_of_summaries(jb, b, ja, a), covariance_of_summaries(ja, a, jb, b), 1e-15);
}

// Brute force: the sd of the difference of two summaries over draws of the causes by id. The relative sampling error of
// an sd from N draws is 1 / sqrt(2 N) = 0.35 %; 4 of them.
TEST(Influence, PredictsTheScatterOfADifferenceOfSummaries) {
  const Curve a = some_curve(), b = another_curve();
  const VectorXd ja = some_influence(a), jb = 1.2 * some_influence(b);
  const Eigen::Index draws = 40000, n = a.size();
  const Eigen::MatrixXd drawn = draw_curves({a, b}, draws);
  const VectorXd difference = drawn.leftCols(n) * ja - drawn.rightCols(n) * jb;
  const double found =
      std::sqrt((difference.array() - difference.mean()).square().sum() / static_cast<double>(draws - 1));
  const double expected =
      std::sqrt(variance_of_summary(ja, a) + variance_of_summary(jb, b) - 2 * covariance_of_summaries(ja, a, jb, b));
  EXPECT_NEAR(found, expected, 4 * expected / std::sqrt(2.0 * static_cast<double>(draws)));
}

TEST(Influence, BudgetNamesEveryCauseAndAddsUp) {
  const Curve curve = some_curve();
  const VectorXd j = some_influence(curve);
  const auto budget = variance_by_cause(j, curve);
  ASSERT_EQ(budget.size(), 4u);
  double total = 0;
  for (const auto& [id, variance] : budget) {
    EXPECT_GT(variance, 0) << id;
    total += variance;
  }
  EXPECT_TRUE(budget.contains("counts"));
  EXPECT_NEAR(total, j.dot(covariance(curve) * j), 1e-12);
}

// ln of a total intensity: a common scale shifts every sample alike, so it leaves the ratio of two curves.
TEST(Influence, ACommonScaleLeavesTheRatioOfTwoCurvesAlone) {
  Curve a = some_curve();
  a.causes.clear();
  a.private_u.setZero();
  const Curve b = scale(scale(a, {0.5, {}}), {1.0, {{"absolute scale", 0.0258}}});
  a = scale(a, {1.0, {{"absolute scale", 0.0258}}});
  const VectorXd ja = VectorXd::Constant(a.size(), 1 / a.intensity.sum());
  const VectorXd jb = VectorXd::Constant(b.size(), 1 / b.intensity.sum());
  EXPECT_NEAR(std::sqrt(variance_of_summary(ja, a)), 0.0258, 1e-12);
  EXPECT_NEAR(variance_of_summary(ja, a) + variance_of_summary(jb, b) - 2 * covariance_of_summaries(ja, a, jb, b), 0,
              1e-15);
}

TEST(Influence, RefusesTheWrongNumberOfPoints) {
  try {
    variance_of_summary(VectorXd::Ones(3), some_curve());
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("3 values but the curve has 7 points"), std::string::npos);
  }
  Curve moved = another_curve();
  for (VectorXd* v : {&moved.q_per_nm, &moved.q_low_per_nm, &moved.q_high_per_nm}) *v *= 1.01;
  const VectorXd j = VectorXd::Ones(7);
  EXPECT_THROW(covariance_of_summaries(j, some_curve(), j, moved), InputError);
}

}  // namespace
}  // namespace sievelight
