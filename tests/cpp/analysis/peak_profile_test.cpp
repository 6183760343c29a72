// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_profile.hpp"

#include <gtest/gtest.h>

#include <Eigen/Core>
#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

using Eigen::ArrayXd;

TEST(PeakProfile, HasUnitHeightAndHalfOfItAtHalfTheWidth) {
  for (double eta : {0.0, 0.3, 1.0}) {
    const ArrayXd value = peak_shape(ArrayXd::LinSpaced(3, -0.5, 0.5), eta);
    EXPECT_NEAR(value[0], 0.5, 1e-15);
    EXPECT_NEAR(value[1], 1.0, 1e-15);
    EXPECT_NEAR(value[2], 0.5, 1e-15);
  }
}

// Areas: sqrt(pi / (4 ln2)) = 1.0644670194 and pi / 2; the sum over a fine grid is exact for these smooth functions,
// but for the Lorentzian's tails beyond +-T, 1 / (2 T).
TEST(PeakProfile, HasItsArea) {
  const double reach = 200.0;
  const ArrayXd t = ArrayXd::LinSpaced(400001, -reach, reach);
  for (double eta : {0.0, 0.5, 1.0})
    EXPECT_NEAR(peak_shape(t, eta).sum() * 1e-3 + eta * 0.5 / reach, peak_area_factor(eta), 1e-5);
  EXPECT_NEAR(peak_area_factor(0.0), 1.0644670194312262, 1e-14);
}

TEST(PeakProfile, KnowsItsSlope) {
  const ArrayXd t = ArrayXd::LinSpaced(41, -2.0, 2.0);
  for (double eta : {0.0, 0.4, 1.0}) {
    const ArrayXd by_steps = (peak_shape(t + 1e-5, eta) - peak_shape(t - 1e-5, eta)) / 2e-5;
    EXPECT_LT((by_steps - peak_slope(t, eta)).abs().maxCoeff(), 1e-9);
  }
}

// Full width at half height of a profile of width w blurred by a Gaussian of width r, by numerical convolution.
double blurred_width(double w, double r, double eta) {
  const ArrayXd x = ArrayXd::LinSpaced(40001, -12.0, 12.0);
  const ArrayXd blur = peak_shape(x / r, 0.0);
  const auto at = [&](double q) { return (blur * peak_shape((q - x) / w, eta)).sum(); };
  const double half = 0.5 * at(0.0);
  double low = 0.0, high = 3.0 * (w + r);
  for (int k = 0; k < 50; ++k) {
    const double middle = 0.5 * (low + high);
    (at(middle) > half ? low : high) = middle;
  }
  return 2.0 * low;
}

// Gaussian: exact. Lorentzian: the formula of 1977 is good to 0.02 % of the observed width; where the blur is as wide
// as the peak that is 0.1 % of the own width. Tails beyond the grid cost 0.05 %.
TEST(PeakProfile, TakesTheBlurOut) {
  for (double r : {0.2, 0.5, 1.0}) {
    EXPECT_NEAR(own_width(blurred_width(1.0, r, 0.0), r, PeakProfile::gaussian, 0.0), 1.0, 1e-6);
    EXPECT_NEAR(own_width(blurred_width(1.0, r, 1.0), r, PeakProfile::lorentzian, 1.0), 1.0, 2e-3);
  }
}

// A Voigt function of parts g and l is near to a pseudo-Voigt (1987): the share eta that belongs to them gives both
// back.
TEST(PeakProfile, SplitsAPseudoVoigtIntoItsParts) {
  const double l = 0.5, blur = 0.8;  // a Lorentzian of 0.5 blurred by 0.8
  const double f = blurred_width(l, blur, 1.0), x = l / f;
  const double eta = 1.36603 * x - 0.47719 * x * x + 0.11116 * x * x * x;  // the same paper's inverse
  EXPECT_NEAR(own_width(f, blur, PeakProfile::pseudo_voigt, eta), l, 0.02 * l);
  EXPECT_NEAR(own_width(f, 1e-9, PeakProfile::pseudo_voigt, eta), f, 0.005 * f);
}

TEST(PeakProfile, LeavesNothingWhereTheBlurExplainsAll) {
  for (PeakProfile profile : {PeakProfile::gaussian, PeakProfile::lorentzian, PeakProfile::pseudo_voigt}) {
    EXPECT_EQ(own_width(0.9, 1.0, profile, 0.5), 0.0);
    EXPECT_EQ(own_width(1.0, 0.0, profile, 0.5), 1.0);
  }
}

}  // namespace
}  // namespace sievelight
