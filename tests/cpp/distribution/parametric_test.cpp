// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/parametric.hpp"

#include "distribution/synthetic.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using synthetic::contrast_per_cm2;
using synthetic::ideal;
using synthetic::log_normal;
using synthetic::noisy;

ParametricOptions absolute() { return {.contrast_per_cm2 = contrast_per_cm2}; }

// Each number within 4 of its own standard uncertainties, and those small enough to matter (2 % noise).
TEST(Parametric, FindsTheLogNormalThatWasPutIn) {
  const ParametricFit f = fit_parametric(noisy(ideal(log_normal(14, 0.2), {}), 1), SizeFamily::log_normal, absolute());
  const auto expect = [](const Estimate& e, double truth, double relative) {
    EXPECT_NEAR(e.value, truth, 4 * e.u);
    EXPECT_LT(e.u, relative * truth);
    EXPECT_LT(e.band95.low, e.value);
    EXPECT_GT(e.band95.high, e.value);
  };
  expect(f.parameters.at("median_nm"), 14, 0.005);
  expect(f.parameters.at("sigma"), 0.2, 0.05);
  expect(f.x50_nm, 14, 0.005);
  expect(f.mean_nm, 14 * std::exp(0.02), 0.005);
  expect(f.relative_width, std::sqrt(std::exp(0.04) - 1), 0.05);
  expect(f.phi_one_minus_phi, 0.1, 0.01);
  expect(f.background, 0.05, 0.5);
  // chi^2 of 116 degrees: 5 of its standard deviations.
  EXPECT_NEAR(f.chi2 / f.degrees_of_freedom, 1.0, 5 * std::sqrt(2 / f.degrees_of_freedom));
  EXPECT_EQ(f.degrees_of_freedom, 120 - 4);
  EXPECT_TRUE(f.warnings.empty()) << f.warnings.front();
  EXPECT_EQ(f.influence.at("x50_nm").size(), 120);
}

// Pull of the median over 60 repeats: mean 0 to 4 / sqrt(60), sd 1 to 4 / sqrt(120).
TEST(Parametric, StatesTheErrorThatRepeatsShow) {
  const Curve truth = ideal(log_normal(14, 0.2), {.background = -0.02, .noise = 0.05});
  double sum = 0, square = 0;
  for (unsigned seed = 1; seed <= 60; ++seed) {
    const Estimate e = fit_parametric(noisy(truth, seed), SizeFamily::log_normal, absolute()).x50_nm;
    const double pull = (e.value - 14) / e.u;
    sum += pull;
    square += pull * pull;
  }
  EXPECT_LT(std::abs(sum / 60), 4 / std::sqrt(60.0));
  EXPECT_NEAR(std::sqrt(square / 60), 1.0, 4 / std::sqrt(120.0));
}

TEST(Parametric, PrefersTheRightFamily) {
  const auto least = [](const Curve& c) {
    std::string best;
    double bic = std::numeric_limits<double>::infinity();
    for (const SizeFamily family : all_families())
      if (const ParametricFit f = fit_parametric(c, family, absolute()); f.bic < bic) {
        bic = f.bic;
        best = f.family;
      }
    return best;
  };
  const auto two = [](double d) { return 0.4 * log_normal(6, 0.12)(d) + 0.6 * log_normal(22, 0.15)(d); };
  EXPECT_EQ(least(noisy(ideal(two, {}), 3)), "two log-normals");
  // At 1 % noise a log-normal of sigma 0.4 is told from a Gaussian and a Schulz-Zimm of equal width.
  EXPECT_EQ(least(noisy(ideal(log_normal(12, 0.4), {.noise = 0.01}), 4)), "log-normal");
  const ParametricFit f = fit_parametric(noisy(ideal(two, {}), 3), SizeFamily::two_log_normals, absolute());
  EXPECT_NEAR(f.parameters.at("median_1_nm").value, 6, 4 * f.parameters.at("median_1_nm").u);
  EXPECT_NEAR(f.parameters.at("median_2_nm").value, 22, 4 * f.parameters.at("median_2_nm").u);
  EXPECT_NEAR(f.parameters.at("share_1").value, 0.4, 4 * f.parameters.at("share_1").u);
}

TEST(Parametric, SaysThatAWrongFamilyDoesNotDescribeTheCurve) {
  const Curve c = noisy(ideal(log_normal(14, 0.3), {.noise = 0.01}), 5);
  const ParametricFit f = fit_parametric(c, SizeFamily::monodisperse, absolute());
  ASSERT_FALSE(f.warnings.empty());
  EXPECT_NE(f.warnings.front().find("monodisperse distribution of spheres does not describe"), std::string::npos);
  EXPECT_GT(f.noise_scale, 2);
}

TEST(Parametric, FitsAPowerLawBesideTheSizes) {
  const Curve c = noisy(ideal(log_normal(10, 0.15), {.power_law_k = 0.02}), 6);
  ParametricOptions options = absolute();
  options.power_law = true;
  const ParametricFit f = fit_parametric(c, SizeFamily::log_normal, options);
  EXPECT_NEAR(f.power_law_k.value, 0.02, 4 * f.power_law_k.u);
  EXPECT_LT(f.power_law_k.u, 0.002);
  EXPECT_NEAR(f.x50_nm.value, 10, 4 * f.x50_nm.u);
}

// The influence of the data on the median is the change of the median when the data are changed.
TEST(Parametric, InfluenceIsWhatAShiftOfTheDataDoes) {
  const Curve c = ideal(log_normal(14, 0.2), {});
  const ParametricFit f = fit_parametric(c, SizeFamily::log_normal, absolute());
  Curve moved = c;
  const Eigen::VectorXd shift = 0.002 * c.intensity.array() * (3 * c.q_per_nm.array()).sin();
  moved.intensity += shift;
  const double found = fit_parametric(moved, SizeFamily::log_normal, absolute()).x50_nm.value - f.x50_nm.value;
  EXPECT_NEAR(found, f.influence.at("x50_nm").dot(shift), 0.05 * std::abs(found));
}

}  // namespace
}  // namespace sievelight
