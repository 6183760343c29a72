// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_share.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

PeakShare share_of(std::vector<double> contrast, double relative) {
  std::mt19937_64 random(3);
  const Curve curve = draw(
      with_relative_u(ordered_curve(log_grid(0.1, 5.0, 300), {.contrast = std::move(contrast)}), relative), random);
  return peak_share(curve, find_curve_peaks(curve));
}

TEST(PeakShare, TellsWhoCarriesTheCurve) {
  EXPECT_EQ(share_of({}, 0.01).role, PeakRole::none);
  EXPECT_EQ(share_of({0.12}, 0.01).role, PeakRole::disturb);
  EXPECT_EQ(share_of({5.0, 2.5, 2.5}, 0.01).role, PeakRole::carry);
}

// A ripple far out, high over the little that is left there: 0.7 (q^-4 + 0.001) of width 0.2 at 3.75 holds
// 0.7 * 0.00606 * 0.2 * 1.064 * 3.75^2 = 0.0127 of the 9.84 of q^2 I from 0.1 to 5.
TEST(PeakShare, IsNotDecidedByAHighPeakThatHoldsNothing) {
  const Eigen::VectorXd q = log_grid(0.1, 5.0, 400);
  Curve curve = with_relative_u(ordered_curve(q, {}), 0.01);
  const auto background = [](double x) { return std::pow(x, -4) + 0.001; };
  for (Eigen::Index i = 0; i < q.size(); ++i) {
    const double t = (q[i] - 3.75) / 0.2;
    curve.intensity[i] = background(q[i]) + 0.7 * background(3.75) * std::exp(-4.0 * std::log(2.0) * t * t);
  }
  curve.private_u = 0.003 * curve.intensity;
  const PeakShare share = peak_share(curve, find_curve_peaks(curve));
  EXPECT_NEAR(share.highest_contrast, 0.7, 0.1);
  EXPECT_NEAR(share.q2_share, 0.0127 / 9.84, 0.0003);
  EXPECT_EQ(share.role, PeakRole::disturb);
}

// Areas against the integral of the same closed form: for one Gaussian of height h and width w over a background, the
// share is h w 1.0645 / (that + integral of the background).
TEST(PeakShare, IsTheAreaOfThePeaks) {
  const PeakShare share = share_of({5.0}, 0.01);
  const double at = 0.725519746, area = 5.0 * (std::pow(at, -3) + 0.02) * 0.06 * at * 1.0644670194;
  const double rest = 0.5 * (std::pow(0.1, -2) - std::pow(5.0, -2)) + 0.02 * 4.9;
  EXPECT_NEAR(share.intensity_share, area / (area + rest), 0.03 * area / (area + rest));
  EXPECT_NEAR(share.highest_contrast, 5.0, 0.3);
  ASSERT_EQ(share.windows_per_nm.size(), 1u);
  EXPECT_TRUE(share.windows_per_nm[0].contains(at));
  // Each point of the peak is tens of u above: at 1 % noise the top alone adds (5 / (6 * 0.01))^2 = 7000.
  EXPECT_GT(share.chi2_per_point, 100.0);
  EXPECT_NE(share.words.find("carries"), std::string::npos) << share.words;
}

TEST(PeakShare, RefusesPeaksOfAnotherCurve) {
  const Curve one = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 200), {}), 0.01);
  const Curve other = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 100), {}), 0.01);
  EXPECT_THROW(peak_share(other, find_curve_peaks(one)), InputError);
}

}  // namespace
}  // namespace sievelight
