// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_scan.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/analysis/weights.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using namespace synthetic;

Curve smooth_background(double relative) {
  return with_relative_u(ordered_curve(log_grid(0.1, 5.0, 200), {.contrast = {}}), relative);
}
PeakScan scan_of(const Curve& curve, double false_alarm) {
  return {
      curve.q_per_nm.array(), curve.intensity.array(), curve.private_u.array().square(), {.false_alarm = false_alarm}};
}

// The promise of the scan: in curves without peaks, something is found at most as often as asked for. 400 curves, rate
// 0.1: the bound on the tail is an upper bound, so fewer is right; the binomial sd is 6.
TEST(PeakScan, KeepsItsFalseAlarmRate) {
  std::mt19937_64 random(11);
  const Curve truth = smooth_background(0.03);
  int alarms = 0;
  for (int k = 0; k < 400; ++k) alarms += scan_of(draw(truth, random), 0.1).clearest().has_value();
  EXPECT_LE(alarms, 40 + 3 * 6);
  EXPECT_GE(alarms, 8) << "the bound is far too careful";
}

TEST(PeakScan, CountsThePlacesItLooksAt) {
  const Curve few = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 60), {.contrast = {}}), 0.03);
  const double places = scan_of(smooth_background(0.03), 0.01).places(), coarse = scan_of(few, 0.01).places();
  // More points are more places; overlapping widths do not count in full (200 points times 8 widths times sqrt z).
  EXPECT_GT(places, 2.0 * coarse);
  EXPECT_LT(places, 200.0 * 8 * 3);
  EXPECT_GT(places, 100.0);
}

TEST(PeakScan, FindsThePlaceAndTheWidth) {
  const Curve curve =
      with_relative_u(ordered_curve(log_grid(0.1, 5.0, 200), {.contrast = {1.0}, .relative_width = 0.08}), 0.02);
  const auto found = scan_of(curve, 0.01).clearest();
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->q_per_nm, 0.7255, 0.02);
  EXPECT_GT(found->fwhm_per_nm, 0.03);
  EXPECT_LT(found->fwhm_per_nm, 0.12);
  EXPECT_LT(found->false_alarm, 1e-6);
}

TEST(PeakScan, LooksAgainOnlyWhereTheCurveChanged) {
  const Curve two = with_relative_u(ordered_curve(log_grid(0.1, 5.0, 200), {.contrast = {3.0, 1.0}}), 0.01);
  const Curve one = ordered_curve(two.q_per_nm, {.contrast = {0.0, 1.0}});
  PeakScan scan = scan_of(two, 0.01);
  EXPECT_NEAR(scan.clearest()->q_per_nm, 0.7255, 0.02);
  scan.update(one.intensity.array(), two.private_u.array().square());
  const auto next = scan.clearest();
  ASSERT_TRUE(next);
  EXPECT_NEAR(next->q_per_nm, 0.7255 * std::sqrt(3.0), 0.03);
  scan.block(next->q_per_nm, 10.0);
  EXPECT_FALSE(scan.clearest());
}

// A single high point is a spike, whatever its z.
TEST(PeakScan, DoesNotCallASpikeAPeak) {
  Curve curve = smooth_background(0.01);
  curve.intensity[100] *= 3.0;
  const auto found = scan_of(curve, 0.01).clearest();
  EXPECT_FALSE(found) << found->q_per_nm << " " << found->z;
}

}  // namespace
}  // namespace sievelight
