// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/invert.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cstdlib>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

using synthetic::contrast_per_cm2;
using synthetic::ideal;
using synthetic::log_normal;
using synthetic::noisy;

InvertOptions absolute() {
  InvertOptions options;
  options.contrast_per_cm2 = contrast_per_cm2;
  return options;
}

bool says(const SizeDistribution& d, const std::string& words) {
  for (const auto& w : d.warnings)
    if (w.find(words) != std::string::npos) return true;
  return false;
}

// Log-normal, volume median 14 nm, sigma 0.2, volume 0.1: mean 14 e^(s^2/2), relative width sqrt(e^(s^2) - 1), 10 %
// point 14 e^(-1.28155 s), specific surface 6 phi e^(s^2/2) / 14 (Hatch and Choate 1929). Each within 4 of its own
// standard uncertainties, and those small enough to matter (2 % noise).
TEST(Invert, FindsALogNormal) {
  const SizeDistribution d = invert(noisy(ideal(log_normal(14, 0.2), {}), 1), absolute());
  const auto expect = [](const Estimate& e, double truth, double relative) {
    EXPECT_NEAR(e.value, truth, 4 * e.u);
    EXPECT_LT(e.u, relative * truth);
    EXPECT_LT(e.band95.low, e.band68.low);
    EXPECT_LT(e.band68.high, e.band95.high);
  };
  expect(d.x50_nm, 14, 0.01);
  expect(d.mean_nm, 14 * std::exp(0.02), 0.01);
  expect(d.relative_width, std::sqrt(std::exp(0.04) - 1), 0.1);
  expect(d.x10_nm, 14 * std::exp(-1.2815515655 * 0.2), 0.03);
  expect(d.x90_nm, 14 * std::exp(1.2815515655 * 0.2), 0.03);
  expect(d.phi_one_minus_phi, 0.1, 0.02);
  expect(d.volume_fraction, 0.5 * (1 - std::sqrt(1 - 0.4)), 0.03);
  expect(d.specific_surface_m2_per_cm3, 1000 * 6 * 0.1 / 14 * std::exp(0.02), 0.05);
  expect(d.background, 0.05, 0.5);
  EXPECT_TRUE(d.converged);
  EXPECT_GT(d.effective_draws.at("x50_nm"), 400);
  EXPECT_TRUE(d.warnings.empty()) << d.warnings.front();
  EXPECT_NEAR(d.chi2_per_point, 1.0, 5 * std::sqrt(2.0 / 120));
  ASSERT_EQ(d.modes_nm.size(), 1);
  EXPECT_NEAR(d.modes_nm[0], 14 * std::exp(-0.04), 0.5);  // of the density per nm
  // The density integrates to 1 over its own nodes, and its bands are in order.
  double sum = 0;
  for (Eigen::Index j = 1; j < d.diameter_nm.size(); ++j)
    sum += 0.5 * (d.q3_per_nm[j] + d.q3_per_nm[j - 1]) * (d.diameter_nm[j] - d.diameter_nm[j - 1]);
  EXPECT_NEAR(sum, 1.0, 0.02);  // each draw does exactly; the point-by-point median nearly
  EXPECT_GE((d.q3_high95 - d.q3_high68).minCoeff(), 0);
  EXPECT_GE((d.q3_high68 - d.q3_per_nm).minCoeff(), 0);
  EXPECT_GE((d.q3_per_nm - d.q3_low68).minCoeff(), 0);
  EXPECT_DOUBLE_EQ(d.cumulative[d.cumulative.size() - 1], 1.0);
}

TEST(Invert, GivesTheSameNumbersOnAnyNumberOfThreads) {
  const Curve c = noisy(ideal(log_normal(14, 0.2), {.bins = 60}), 1);
  InvertOptions options = absolute();
  options.draws = 400;
  setenv("SIEVELIGHT_THREADS", "1", 1);
  const SizeDistribution one = invert(c, options);
  setenv("SIEVELIGHT_THREADS", "3", 1);
  const SizeDistribution three = invert(c, options);
  unsetenv("SIEVELIGHT_THREADS");
  EXPECT_EQ(one.q3_per_nm, three.q3_per_nm);
  EXPECT_EQ(one.draws.at("x50_nm"), three.draws.at("x50_nm"));
  EXPECT_EQ(one.fit, three.fit);
  options.seed = 2;
  EXPECT_NE(invert(c, options).draws.at("x50_nm")[0], one.draws.at("x50_nm")[0]);  // there may be more of them
}

// A level left over after subtraction may be negative; forcing it to zero would move x50 (by 3 % in the simulations
// that led to this prior).
TEST(Invert, AcceptsANegativeBackground) {
  const SizeDistribution d =
      invert(noisy(ideal(log_normal(14, 0.2), {.background = -0.3, .floor = 0.02}), 2), absolute());
  EXPECT_NEAR(d.background.value, -0.3, 4 * d.background.u);
  EXPECT_LT(d.background.band95.high, 0);
  EXPECT_NEAR(d.x50_nm.value, 14, 4 * d.x50_nm.u);
}

TEST(Invert, FitsAPowerLawAtLowAngles) {
  const Curve c = noisy(ideal(log_normal(14, 0.2), {.power_law_k = 0.05}), 3);
  InvertOptions options = absolute();
  options.power_law = true;
  const SizeDistribution d = invert(c, options);
  EXPECT_NEAR(d.power_law_k.value, 0.05, 4 * d.power_law_k.u);
  EXPECT_GT(d.power_law_k.band95.low, 0);
  EXPECT_NEAR(d.x50_nm.value, 14, 4 * d.x50_nm.u);
  EXPECT_TRUE(std::isnan(invert(c, absolute()).power_law_k.value));
}

// Peelle's puzzle in a real fit: a common 10 % scale error stated from the noisy data must not pull the level down. 5 %
// noise on 120 points; built naively, the level falls to about 1 / (1 + 120 * 0.1^2), by half.
TEST(Invert, AScaleErrorWidensTheVolumeButDoesNotMoveIt) {
  Curve c = noisy(ideal(log_normal(14, 0.2), {.noise = 0.05}), 4);
  const SizeDistribution sharp = invert(c, absolute());
  c.causes["scale"] = {CauseKind::coherent, 0.1 * c.intensity};
  const SizeDistribution wide = invert(c, absolute());
  EXPECT_NEAR(wide.phi_one_minus_phi.value / sharp.phi_one_minus_phi.value, 1.0, 0.02);
  EXPECT_NEAR(wide.phi_one_minus_phi.u / wide.phi_one_minus_phi.value, 0.1, 0.015);
  EXPECT_NEAR(wide.x50_nm.value, sharp.x50_nm.value, 0.5 * sharp.x50_nm.u);  // a scale does not touch sizes
  EXPECT_NEAR(wide.x50_nm.u / sharp.x50_nm.u, 1.0, 0.25);
}

TEST(Invert, WidensUncertaintiesThatAreTooSmall) {
  Curve c = noisy(ideal(log_normal(14, 0.2), {}), 5);
  const SizeDistribution honest = invert(c, absolute());
  c.private_u *= 0.6;
  const SizeDistribution d = invert(c, absolute());
  EXPECT_NEAR(d.noise_scale, 1 / 0.6, 0.25);
  EXPECT_TRUE(says(d, "the pointwise uncertainties were multiplied by 1."));
  EXPECT_NEAR(d.x50_nm.u / honest.x50_nm.u, 1.0, 0.3);
  c.private_u *= 0.4;  // now four times too small
  EXPECT_TRUE(says(invert(c, absolute()), "does not describe this curve within its uncertainties"));
  c.private_u *= 4 / 0.24;
  const SizeDistribution timid = invert(c, absolute());
  EXPECT_DOUBLE_EQ(timid.noise_scale, 1.0);
  EXPECT_TRUE(says(timid, "larger than the scatter of the points"));
}

TEST(Invert, TellsWhenTheDistributionTouchesTheEdge) {
  const Curve c = noisy(ideal(log_normal(14, 0.2), {}), 6);
  InvertOptions options = absolute();
  options.diameter_nm = Range{5.0, 14.0};
  const SizeDistribution d = invert(c, options);
  EXPECT_TRUE(says(d, "touches the edge"));
  EXPECT_NEAR(d.outside_share, 0.5, 0.1);
  EXPECT_NEAR(d.phi_one_minus_phi.value, 0.05, 5 * d.phi_one_minus_phi.u);
  options.diameter_nm = Range{2.0, 80.0};
  const SizeDistribution wide = invert(c, options);
  EXPECT_TRUE(says(wide, "supports sizes up to pi/q_min = 39.27 nm"));
  EXPECT_TRUE(says(wide, "begins at 2 nm"));
}

TEST(Invert, NamesTwoModesAndWarnsOfAMedianBetweenThem) {
  const auto small = log_normal(6.5, 0.1), large = log_normal(25, 0.1);
  const Curve c = noisy(ideal([&](double d) { return 0.5 * small(d) + 0.5 * large(d); }, {.noise = 0.01}), 7);
  const SizeDistribution d = invert(c, absolute());
  EXPECT_GT(d.probability_two_modes, 0.95);
  ASSERT_EQ(d.modes_nm.size(), 2);
  EXPECT_NEAR(d.modes_nm[0], 6.5, 0.5);
  EXPECT_NEAR(d.modes_nm[1], 25, 1);
  EXPECT_TRUE(d.x50_in_gap);
  EXPECT_TRUE(says(d, "quote the modes, not x50"));
}

TEST(Invert, LeavesVolumesOutWhereTheCurveIsRelative) {
  Curve c = noisy(ideal(log_normal(14, 0.2), {}), 8);
  c.unit = IntensityUnit::relative;
  InvertOptions options = absolute();
  options.draws = 400;
  const SizeDistribution d = invert(c, options);
  EXPECT_TRUE(std::isnan(d.phi_one_minus_phi.value));
  EXPECT_TRUE(std::isnan(d.volume_fraction.value));
  EXPECT_FALSE(d.draws.contains("phi_one_minus_phi"));
  EXPECT_TRUE(says(d, "no volume fraction or surface follows without 1/cm"));
  EXPECT_NEAR(d.x50_nm.value, 14, 4 * d.x50_nm.u);
}

TEST(Invert, RefusesAVolumeFractionThatCannotBe) {
  InvertOptions options = absolute();
  options.contrast_per_cm2 = contrast_per_cm2 / 2;  // phi(1 - phi) becomes 0.4
  const SizeDistribution d = invert(noisy(ideal(log_normal(14, 0.2), {}), 9), options);
  EXPECT_NEAR(d.phi_one_minus_phi.value, 0.4, 0.02);
  EXPECT_TRUE(std::isnan(d.volume_fraction.value));
  EXPECT_TRUE(says(d, "exceeds 0.25"));
  options.contrast_per_cm2 = contrast_per_cm2;
  options.root = FractionRoot::larger;
  const SizeDistribution larger = invert(noisy(ideal(log_normal(14, 0.2), {}), 9), options);
  EXPECT_NEAR(larger.volume_fraction.value, 0.5 * (1 + std::sqrt(1 - 0.4)), 4 * larger.volume_fraction.u);
}

TEST(Invert, QuickLookIsCloseAndSaysWhatItIs) {
  InvertOptions options = absolute();
  options.method = InversionMethod::evidence;
  options.power_law = true;
  const SizeDistribution d = invert(noisy(ideal(log_normal(14, 0.2), {}), 10), options);
  EXPECT_NEAR(d.x50_nm.value, 14, 0.5);
  EXPECT_NEAR(d.phi_one_minus_phi.value, 0.1, 0.005);
  EXPECT_GE(d.draws.at("power_law_k").minCoeff(), 0);
  EXPECT_TRUE(says(d, "quick look"));
}

TEST(Invert, RefusesNonsense) {
  const Curve c = noisy(ideal(log_normal(14, 0.2), {.bins = 40}), 11);
  InvertOptions options;
  options.draws = 10;
  EXPECT_THROW(invert(c, options), InputError);
  options = {};
  options.contrast_per_cm2 = -1;
  EXPECT_THROW(invert(c, options), InputError);
  options = {};
  options.diameter_nm = Range{10, 5};
  EXPECT_THROW(invert(c, options), InputError);
}

}  // namespace
}  // namespace sievelight
