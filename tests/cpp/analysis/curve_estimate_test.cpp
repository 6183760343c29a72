// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_estimate.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/curve/influence.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

Curve three_points() {
  Curve curve = synthetic::bare(Eigen::Vector3d(1, 2, 3), Eigen::Vector3d(9, 4, 1));
  curve.private_u = Eigen::Vector3d(0.3, 0.2, 0.1);
  curve.causes["scale"] = {CauseKind::coherent, Eigen::Vector3d(0.9, 0.4, 0.1)};
  curve.causes["blank"] = {CauseKind::pointwise, Eigen::Vector3d(0.1, -0.2, 0.1)};
  return curve;
}

// Source: GUM 5.2.2, written out by hand for J = (1, 2, -1): counts 0.09 + 0.16 + 0.01, blank 0.01 + 0.16 + 0.01,
// scale (0.9 + 0.8 - 0.1)^2 = 2.56; together 3.00.
TEST(CurveEstimate, PropagatesEveryCauseThroughItsInfluence) {
  const Curve curve = three_points();
  const CurveEstimate e = estimate_from(curve, 5.0, Eigen::Vector3d(1, 2, -1));
  EXPECT_NEAR(e.u, std::sqrt(3.0), 1e-14);
  EXPECT_NEAR(e.u * e.u, variance_of_summary(e.influence, curve), 1e-14);
  EXPECT_NEAR(e.band68.high, 5.0 + std::sqrt(3.0), 1e-14);
}

TEST(CurveEstimate, AddsOwnCausesWithTheirSign) {
  const Curve curve = three_points();
  // "scale" acts through the curve by +1.6 and beside it by -1.6; "density" stands alone with 2.
  const CurveEstimate e = estimate_from(curve, 5.0, Eigen::Vector3d(1, 2, -1), {{"scale", -1.6}, {"density", 2.0}});
  EXPECT_NEAR(e.u * e.u, 3.0 - 2.56 + 4.0, 1e-12);
}

TEST(CurveEstimate, ScalesValueUncertaintyAndInfluenceTogether) {
  const CurveEstimate e = estimate_from(three_points(), 5.0, Eigen::Vector3d(1, 2, -1), {{"density", 2.0}});
  const CurveEstimate s = scaled(e, -3.0);
  EXPECT_DOUBLE_EQ(s.value, -15.0);
  EXPECT_DOUBLE_EQ(s.u, 3.0 * e.u);
  EXPECT_LT(s.band95.low, s.band95.high);
  EXPECT_DOUBLE_EQ(s.influence[1], -6.0);
  EXPECT_DOUBLE_EQ(s.causes.at("density"), -6.0);
}

// What moves a and b in proportion cancels; by hand: J = (1/b)(J_a - a/b J_b), density 2/4 - 1.25 * 1.6/4 = 0.
TEST(CurveEstimate, ARatioLosesWhatBothShare) {
  const Curve curve = three_points();
  const CurveEstimate a = estimate_from(curve, 5.0, Eigen::Vector3d(1, 2, -1), {{"density", 2.0}}),
                      b = estimate_from(curve, 4.0, Eigen::Vector3d(0, 1, 0), {{"density", 1.6}});
  const CurveEstimate r = ratio(curve, a, b);
  EXPECT_DOUBLE_EQ(r.value, 1.25);
  EXPECT_NEAR(r.influence[1], (2.0 - 1.25) / 4.0, 1e-15);
  EXPECT_NEAR(r.causes.at("density"), 0.0, 1e-15);
  const CurveEstimate one = ratio(curve, a, scaled(a, 2.0));
  EXPECT_NEAR(one.u, 0.0, 1e-15);
}

// By hand: "scale" acts by 1.6 - 0.1 through and beside a, by 0.4 + 0.3 on b; "blank" pointwise with J = (1, 2, -1) and
// (0, 1, 0): 2 * 0.04; "density" 2 * 1.5; counts are each curve's own.
TEST(CurveEstimate, CovarianceOfTwoCurvesMeetsEveryCommonId) {
  const Curve curve = three_points();
  const CurveEstimate a = estimate_from(curve, 5.0, Eigen::Vector3d(1, 2, -1), {{"scale", -0.1}, {"density", 2.0}}),
                      b = estimate_from(curve, 4.0, Eigen::Vector3d(0, 1, 0), {{"scale", 0.3}, {"density", 1.5}});
  EXPECT_NEAR(effect(curve, a, "scale"), 1.5, 1e-15);
  EXPECT_NEAR(covariance(curve, a, curve, b), 1.5 * 0.7 + 0.08 + 3.0, 1e-14);
  EXPECT_NEAR(covariance(curve, b, curve, a), 1.5 * 0.7 + 0.08 + 3.0, 1e-14);
}

TEST(CurveEstimate, TakesANumberFromElsewhere) {
  const CurveEstimate e = estimate_without_curve(10.0, 0.5);
  EXPECT_DOUBLE_EQ(e.value, 10.0);
  EXPECT_DOUBLE_EQ(e.band68.high, 10.5);
  EXPECT_EQ(e.influence.size(), 0);
  EXPECT_THROW(estimate_without_curve(10.0, -0.5), InputError);
}

}  // namespace
}  // namespace sievelight
