// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/plan/counting_rates.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

using Eigen::Vector2d;
using Eigen::VectorXd;

CountingRates rates() { return {Vector2d(4.0, 9.0), Vector2d(1.0, 16.0), Vector2d(0.5, 0.0)}; }

TEST(CountingRates, AddCountsOfSampleAndBackgroundAndTheFloor) {
  const VectorXd u = predicted_u(rates(), 2.0, 4.0);
  EXPECT_DOUBLE_EQ(u[0], std::sqrt(4.0 / 2 + 1.0 / 4 + 0.25));
  EXPECT_DOUBLE_EQ(u[1], std::sqrt(9.0 / 2 + 16.0 / 4));
}

TEST(CountingRates, FollowTheInfluenceOfASummary) {
  const SummaryRates r = summary_rates(rates(), Vector2d(2.0, -1.0));
  EXPECT_DOUBLE_EQ(r.sample, 4 * 4.0 + 9.0);
  EXPECT_DOUBLE_EQ(r.background, 4 * 1.0 + 16.0);
  EXPECT_DOUBLE_EQ(r.variance(5.0, 10.0), 25.0 / 5 + 20.0 / 10);
}

// Least n t_s + t_b at a fixed variance, by trying 4000 ratios in steps of 0.35 %; the minimum is flat, so the ratio is
// compared to two steps and the time itself to 1e-5.
TEST(CountingRates, SplitTimeAsBruteForceDoes) {
  for (const int samples : {1, 4, 10})
    for (const double background : {0.02, 0.5, 3.0}) {
      const SummaryRates r{1.0, background};
      const auto total = [&](double ratio) {  // t_s = (A + B / ratio) / variance
        return (samples + ratio) * (r.sample + r.background / ratio);
      };
      double best = 0, least = 1e300;
      for (int k = 0; k < 4000; ++k) {
        const double ratio = 1e-3 * std::pow(1.0035, k);
        if (total(ratio) < least) least = total(best = ratio);
      }
      const double split = best_split(r, samples);
      EXPECT_NEAR(split / best, 1.0, 0.007) << samples << " samples, " << background;
      EXPECT_NEAR(total(split) / least, 1.0, 1e-5);
    }
  EXPECT_EQ(best_split({1.0, 0.0}, 3), 0.0);
}

Curve one_bin(double low, double high) {
  Curve c;
  for (VectorXd* v : {&c.q_per_nm, &c.intensity, &c.private_u, &c.q_low_per_nm, &c.q_high_per_nm}) v->resize(1);
  c.q_per_nm << 0.5 * (low + high);
  c.intensity << 2.0;
  c.private_u << 0.1;
  c.q_low_per_nm << low;
  c.q_high_per_nm << high;
  c.unit = IntensityUnit::per_cm;
  return c;
}

// Source: flux x transmission x thickness x solid angle, the solid angle of a ring at small angles 2 pi theta dtheta
// with theta = q lambda / (2 pi); exact to (q lambda / 4 pi)^2 = 2e-6 here.
TEST(CountingRates, CountByTheSolidAngleOfARing) {
  const Curve c = one_bin(0.19, 0.21);
  const ExpectedBeam beam{.photons_per_s = 1e8, .transmission = 0.5, .thickness_mm = 2.0, .wavelength_nm = 0.1};
  const double theta = 0.2 * 0.1 / (2 * std::numbers::pi), width = 0.02 * 0.1 / (2 * std::numbers::pi);
  EXPECT_NEAR(counts_per_s(c, beam)[0], 1e8 * 0.5 * 0.2 * 2 * std::numbers::pi * std::sin(theta) * width,
              1e-4 * 1e8 * 1e-5);
}

// N counts have the relative error 1/sqrt(N): 100 s of an intensity of 2 + 1 over a background of 1.
TEST(CountingRates, AreThoseOfPoisson) {
  const Curve c = one_bin(0.19, 0.21);
  const ExpectedBeam beam{.photons_per_s = 1e8, .transmission = 0.5, .cell_transmission = 0.9, .wavelength_nm = 0.1};
  const double per_s = counts_per_s(c, beam)[0];
  const CountingRates r = expected_rates(c, VectorXd::Constant(1, 1.0), beam, 0.0);
  EXPECT_NEAR(predicted_u(r, 100, 1e30)[0] / 3.0, 1 / std::sqrt(3.0 * per_s * 100), 1e-12);
  const double empty_per_s = per_s * 0.9 / 0.5;  // the same beam without the sample's absorption
  EXPECT_NEAR(predicted_u(r, 1e30, 100)[0], 1 / std::sqrt(empty_per_s * 100), 1e-9);
  EXPECT_NEAR(expected_rates(c, VectorXd::Constant(1, 1.0), beam, 0.01).floor[0], 0.03, 1e-12);
}

TEST(CountingRates, RefuseWhatCannotBe) {
  EXPECT_NE(refusal<InputError>([] { predicted_u(rates(), 0.0, 1.0); }).find("exposures are 0 s"), std::string::npos);
  EXPECT_NE(refusal<InputError>([] { summary_rates(rates(), VectorXd::Ones(3)); }).find("3 points"), std::string::npos);
  EXPECT_NE(refusal<InputError>([] { best_split({1.0, 1.0}, 0); }).find("0 samples"), std::string::npos);
  EXPECT_NE(refusal<InputError>([] { best_split({0.0, 1.0}, 2); }).find("no counting noise"), std::string::npos);
  EXPECT_NE(refusal<InputError>([] {
              predicted_u({Vector2d(-1, 1), Vector2d(1, 1), Vector2d(0, 0)}, 1, 1);
            }).find("negative"),
            std::string::npos);
  Curve points = one_bin(0.19, 0.21);
  EXPECT_NE(refusal<InputError>([&] { counts_per_s(points, {.photons_per_s = 1e8}); }).find("wavelength"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] {
              counts_per_s(points, {.photons_per_s = 1e8, .transmission = 1.2, .wavelength_nm = 0.1});
            }).find("transmission 1.2"),
            std::string::npos);
  points.q_low_per_nm.resize(0);
  points.q_high_per_nm.resize(0);
  EXPECT_NE(refusal<InputError>([&] {
              counts_per_s(points, {.photons_per_s = 1e8, .wavelength_nm = 0.1});
            }).find("bin edges"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
