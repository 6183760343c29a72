// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/domain_size.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

Curve blurred(double own, double blur, unsigned seed) {
  std::mt19937_64 random(seed);
  const double first = 4.0 * pi / (std::sqrt(3.0) * 10.0);
  Curve curve = ordered_curve(log_grid(0.1, 5.0, 300), {.relative_width = std::hypot(own, blur)});
  curve.q_resolution_per_nm = Eigen::VectorXd::Constant(curve.size(), blur * first / 2.3548200450309493);
  return draw(with_relative_u(curve, 0.01), random);
}

// D = 2 pi K / Delta q with Delta q = 0.05 q10, q10 = 0.7255197 1/nm: 2 pi 0.9 / 0.03627599 = 155.8846 nm. Scherrer's
// K lambda / (beta cos theta) at any wavelength is the same number.
TEST(DomainSize, IsScherrersFormula) {
  const double delta_q = 0.05 * 0.725519746, lambda = 0.154, theta = std::asin(0.725519746 * lambda / (4.0 * pi));
  const double beta = delta_q * lambda / (2.0 * pi * std::cos(theta));
  EXPECT_NEAR(0.9 * lambda / (beta * std::cos(theta)), 155.8846, 0.001);
  const Curve curve = blurred(0.05, 0.02, 4);
  const DomainSize size = domain_size(curve, find_curve_peaks(curve, {.profile = PeakProfile::gaussian}));
  ASSERT_TRUE(size.domain_nm);
  EXPECT_NEAR(size.domain_nm->value, 155.8846, 4.0 * size.domain_nm->u);
  EXPECT_LT(size.domain_nm->u, 10.0);
  EXPECT_LT(size.lower_limit_nm, size.domain_nm->value);
  EXPECT_GT(size.domain_nm->causes.count("q resolution"), 0u);
}

TEST(DomainSize, GivesALowerLimitWhereTheResolutionIsTheWidth) {
  const Curve curve = blurred(0.005, 0.06, 5);
  const DomainSize size = domain_size(curve, find_curve_peaks(curve, {.profile = PeakProfile::gaussian}));
  EXPECT_FALSE(size.domain_nm);
  // The truth, 1559 nm, lies above the limit; and the limit says something: more than a tenth of it.
  EXPECT_LT(size.lower_limit_nm, 1558.86);
  EXPECT_GT(size.lower_limit_nm, 150.0);
  ASSERT_FALSE(size.warnings.empty());
  EXPECT_NE(size.warnings[0].find("larger than"), std::string::npos);
}

// One-sided 95 %: over 200 curves of a known blur the limit stays below the truth in 95 % of them or more.
TEST(DomainSize, HasALimitThatHolds) {
  int below = 0, found = 0;
  for (unsigned seed = 0; seed < 200; ++seed) {
    const Curve curve = blurred(0.03, 0.04, 100 + seed);
    const CurvePeaks peaks = find_curve_peaks(curve, {.profile = PeakProfile::gaussian, .resolution_relative_u = 0.0});
    if (peaks.peaks.empty()) continue;
    ++found;
    below += domain_size(curve, peaks).lower_limit_nm < 2.0 * pi * 0.9 / (0.03 * 0.725519746);
  }
  // The peak of smallest stated u is taken, which favours peaks that came out wide or sure: 95 % less 4 sd.
  EXPECT_GT(below, 0.89 * found);
  EXPECT_GT(found, 195);
}

TEST(DomainSize, RefusesWithoutAPeak) {
  const Curve smooth = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 100), {.contrast = {}}), 0.01);
  EXPECT_THROW(domain_size(smooth, find_curve_peaks(smooth)), InputError);
  const Curve curve = blurred(0.05, 0.02, 4);
  EXPECT_THROW(domain_size(curve, find_curve_peaks(curve), 0.0), InputError);
}

}  // namespace
}  // namespace sievelight
