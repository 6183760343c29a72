// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/guinier_window.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/analysis/guinier.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace sievelight {
namespace {

using namespace synthetic;

const double rg_of_sphere = std::sqrt(0.6) * 10.0;

Curve sphere_with_noise(double relative = 0.01) {
  return with_counting_u(sphere_curve(log_grid(0.02, 2.0, 200), 10.0, 50.0), relative, 1e-3);
}

GuinierWindow window_of(const Curve& curve, const GuinierOptions& options = {}) {
  return find_guinier_window(curve, point_weights(curve), options);
}

TEST(GuinierWindow, EndsAtTheLimitOfItsOwnRadius) {
  for (double limit : {0.8, 1.0, 1.3}) {
    const Curve curve = sphere_with_noise();
    const GuinierFit fit = fit_guinier(curve, {.q_rg_max = limit});
    EXPECT_EQ(fit.first, 0);
    EXPECT_LE(fit.q_rg_high, limit * (1 + 1e-12));
    EXPECT_GT(fit.q_rg_high, 0.94 * limit);  // two steps of this grid
  }
}

// Parasitic scatter beside the beamstop, a steep upturn in the first eight points: dropped, and Rg as without it.
TEST(GuinierWindow, DropsAnUpturnAtTheBeamstop) {
  std::mt19937_64 random(21);
  int found = 0;
  for (int k = 0; k < 50; ++k) {
    Curve curve = sphere_with_noise();
    for (Eigen::Index i = 0; i < 8; ++i) curve.intensity[i] *= 1.0 + 0.6 * std::pow(0.6, i);
    curve = draw(curve, random);
    const GuinierFit fit = fit_guinier(curve);
    EXPECT_GE(fit.first, 3);  // the first three are 60, 36 and 22 % too high at 1 % noise
    EXPECT_LE(fit.first, 20);
    found += std::abs(fit.rg_nm.value / (1.0186 * rg_of_sphere) - 1.0) < 0.02;
  }
  EXPECT_GE(found, 45);
}

TEST(GuinierWindow, DropsAShadowedFirstPoint) {
  Curve curve = sphere_with_noise();
  curve.intensity[0] *= 0.5;
  const GuinierWindow window = window_of(curve);
  EXPECT_EQ(window.first, 1);
  EXPECT_EQ(window.dropped, 1);
}

// A sound curve keeps its first points; 3.5 sd leaves 5 in 10^4 to chance for each, and 1 in 1000 to chi-square.
TEST(GuinierWindow, KeepsTheFirstPointsOfASoundCurve) {
  std::mt19937_64 random(4);
  int kept = 0;
  for (int k = 0; k < 300; ++k) kept += window_of(draw(sphere_with_noise(), random)).first == 0;
  EXPECT_GE(kept, 296);
}

// Precise data on a sphere are bent beyond their noise; that is the law's own error, not a reason to drop points.
TEST(GuinierWindow, ForgivesTheLawsOwnErrorOnPreciseData) {
  const GuinierWindow window = window_of(sphere_with_noise(1e-5));
  EXPECT_EQ(window.first, 0);
  EXPECT_TRUE(window.law_holds);
}

TEST(GuinierWindow, SaysWhenObjectsAreTooLarge) {
  const Curve curve = with_counting_u(sphere_curve(log_grid(0.2, 2.0, 100), 30.0, 50.0), 0.01, 1e-3);
  try {
    window_of(curve);
    FAIL() << "accepted";
  } catch (const NumericalError& error) {
    EXPECT_NE(error.problem().find("already reach q Rg"), std::string::npos) << error.what();
    EXPECT_NE(error.mend().find("lower q"), std::string::npos);
  }
}

TEST(GuinierWindow, SaysWhenACorrelationPeakHidesTheRange) {
  // A peak at 0.5 1/nm, as of densely packed pores: the intensity rises up to it.
  const Eigen::VectorXd q = log_grid(0.05, 3.0, 150);
  const Curve curve = with_counting_u(bare(q, 10.0 * (-((q.array() / 0.5).log() / 0.5).square()).exp() + 0.5), 0.01);
  try {
    window_of(curve);
    FAIL() << "accepted";
  } catch (const NumericalError& error) {
    EXPECT_NE(error.problem().find("does not fall"), std::string::npos) << error.what();
  }
}

TEST(GuinierWindow, RefusesARangeWithoutPoints) {
  try {
    window_of(sphere_with_noise(), {.q_range_per_nm = Range{5.0, 6.0}});
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.problem().find("0 points lie between"), std::string::npos);
    EXPECT_NE(error.mend().find("from 0.02 to 2 1/nm"), std::string::npos) << error.mend();
  }
  EXPECT_THROW(window_of(sphere_with_noise(), {.q_rg_max = -1.0}), InputError);
}

}  // namespace
}  // namespace sievelight
