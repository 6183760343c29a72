// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/plan/exposure_law.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::Vector3d;
using Eigen::VectorXd;

TEST(ExposureLaw, FindsThePowerThatWasPutIn) {
  const Vector3d t(25, 100, 400);
  const ExposureLaw law = fit_exposure_law(t, 0.3 * t.array().pow(-0.41), 0.01);
  EXPECT_NEAR(law.b, 0.41, 1e-12);
  EXPECT_NEAR(law.a, 0.3, 1e-12);
  EXPECT_NEAR(law.u(100), std::hypot(0.3 * std::pow(100.0, -0.41), 0.01), 1e-12);
}

TEST(ExposureLaw, TurnsAnUncertaintyIntoATime) {
  const ExposureLaw law{0.3, 0.41, 0.01};
  EXPECT_NEAR(law.u(*law.exposure_s(0.02)), 0.02, 1e-12);
  EXPECT_FALSE(law.exposure_s(0.01).has_value());
  // Counting sd = half the shared sd: the total stands sqrt(1.25) = 1.118 times above the floor.
  EXPECT_NEAR(law.u(*law.pays_until_s()), 0.01 * std::sqrt(1.25), 1e-12);
  EXPECT_FALSE((ExposureLaw{0.3, 0.5, 0.0}).pays_until_s().has_value());
}

TEST(ExposureLaw, TakesTheSquareRootFromOneExposureAndHoldsAWildSlope) {
  const ExposureLaw one = fit_exposure_law(VectorXd::Constant(1, 16.0), VectorXd::Constant(1, 0.5), 0.0);
  EXPECT_DOUBLE_EQ(one.b, 0.5);
  EXPECT_NEAR(one.u(64), 0.25, 1e-12);
  const Vector3d t(1, 10, 100);
  EXPECT_DOUBLE_EQ(fit_exposure_law(t, t, 0.0).b, 0.1);
}

TEST(ExposureLaw, RefusesWhatIsNotAboveZero) {
  EXPECT_NE(refusal<InputError>([] { fit_exposure_law(VectorXd::Ones(2), VectorXd::Ones(3), 0.0); }).find("pair"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([] { fit_exposure_law(VectorXd::Zero(2), VectorXd::Ones(2), 0.0); }).find("above zero"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
