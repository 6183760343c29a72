// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/assumed_u.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

Curve seven_points() {
  Curve c;
  c.q_per_nm = Eigen::VectorXd::LinSpaced(7, 0.1, 0.7);
  c.intensity.resize(7);
  c.intensity << 10, 8, 6, -1, 3, 2, 0;
  c.private_u = Eigen::VectorXd::Zero(7);
  c.private_u[1] = 0.5;
  return c;
}

TEST(AssumedU, FollowsTheLocalMeanAndKeepsWhatWasGiven) {
  const AssumedU a = assume_u(seven_points(), 0.1, 0.3);
  EXPECT_EQ(a.points, 6);
  EXPECT_EQ(a.curve.private_u[1], 0.5);
  EXPECT_NEAR(a.curve.private_u[0], std::hypot(0.1 * 8.0, 0.3), 1e-12);  // (10 + 8 + 6) / 3
  EXPECT_NEAR(a.curve.private_u[3], std::hypot(0.1 * 4.0, 0.3), 1e-12);  // (8 + 6 + 1 + 3 + 2) / 5
  EXPECT_NEAR(a.curve.private_u[6], std::hypot(0.1 * 5.0 / 3, 0.3), 1e-12);
  EXPECT_EQ(a.curve.intensity, seven_points().intensity);
}

TEST(AssumedU, RefusesAModelThatLeavesAPointWithoutUncertainty) {
  EXPECT_THROW(assume_u(seven_points(), 0, 0), InputError);
  EXPECT_THROW(assume_u(seven_points(), -0.1, 1), InputError);
  Curve zero = seven_points();
  zero.intensity.setZero();
  EXPECT_THROW(assume_u(zero, 0.1, 0), InputError);
}

}  // namespace
}  // namespace sievelight
