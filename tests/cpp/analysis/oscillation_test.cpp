// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/oscillation.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/analysis/peak_profile.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using namespace synthetic;

// The third side maximum of a sphere, q R = 12.32 (reference table 5.1), is half a period wide: pi / (2 R).
TEST(Oscillation, FollowsTheLobesOfASphere) {
  const double radius = 10.0, q0 = 12.3229409705666 / radius, fwhm = pi / (2 * radius);
  const ArrayXd q = ArrayXd::LinSpaced(60, q0 - 2.5 * fwhm, q0 + 2.5 * fwhm);
  const ArrayXd y = sphere_curve(q.matrix(), radius, 1.0).intensity.array();
  const double height = 3.8258e-4;
  const ArrayXd variance = ArrayXd::Constant(q.size(), std::pow(0.03 * height, 2));
  // Within the 3 % that a model is asked to be right to: chi2 a point below 1.
  EXPECT_LT(ripple_chi2(q, y, variance, q0, fwhm), static_cast<double>(q.size()));
}

TEST(Oscillation, DoesNotFollowASinglePeak) {
  const ArrayXd q = ArrayXd::LinSpaced(60, 0.75, 1.25);
  const ArrayXd y = q.pow(-3) + peak_shape((q - 1.0) / 0.1, 0.0);
  const ArrayXd variance = ArrayXd::Constant(q.size(), 0.03 * 0.03);
  EXPECT_GT(ripple_chi2(q, y, variance, 1.0, 0.1), 3.0 * static_cast<double>(q.size()));
}

TEST(Oscillation, ComparesByInformation) {
  // Equal chi2: the one with fewer numbers is ahead by ln m for each.
  EXPECT_NEAR(advantage_over_ripple(50.0, 50.0, 6, 60), 2.0 * std::log(60.0), 1e-12);
  // Neither explains: the difference counts in units of the scatter, 10 a point here.
  EXPECT_NEAR(advantage_over_ripple(1040.0, 540.0, ripple_parameters, 62), 500.0 / (540.0 / 54.0), 1e-9);
}

}  // namespace
}  // namespace sievelight
