// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/porod.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/curve/influence.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>

namespace sievelight {
namespace {

using namespace synthetic;

constexpr double silica_contrast = 18.6408e10;  // 1/cm2, SiO2 2.20 g/cm3 against vacuum (reference table, 7.3)

// K = 2 pi contrast^2 S/V in 1/cm nm^-4, S/V in 1/nm: cm^-4 nm^-1 to cm^-1 nm^-4 is 1e-21.
double porod_constant(double surface_per_nm) {
  return 2.0 * pi * std::pow(silica_contrast, 2) * surface_per_nm * 1e-21;
}

// S/V = 4 phi (1 - phi) / a (Debye, Anderson, Brumberger 1957).
Curve noisy_two_phase(double relative, double background = 0.05) {
  Curve curve = random_two_phase(log_grid(0.05, 5.0, 200), 5.0, 0.3, silica_contrast);
  curve.intensity.array() += background;
  return with_counting_u(curve, relative);
}
const double k_two_phase = porod_constant(4.0 * 0.21 / 5.0);

TEST(Porod, RecoversTheLawItselfOfEitherSignOfBackground) {
  for (double background : {0.02, -0.02}) {
    const Eigen::VectorXd q = log_grid(0.5, 5.0, 100);
    Curve curve = bare(q, 3.0 * q.array().pow(-4) + background, IntensityUnit::per_cm);
    curve.private_u = 0.01 * (q.array().pow(-4) + 0.01);
    for (const PorodOptions& options : {PorodOptions{}, PorodOptions{.q_range_per_nm = Range{1.0, 5.0}}}) {
      const PorodFit fit = fit_porod(curve, options);
      EXPECT_NEAR(fit.constant.value, 3.0, 1e-9);
      EXPECT_NEAR(fit.background.value, background, 1e-10);
      EXPECT_NEAR(fit.constant_per_cm5.value, 3.0e28, 1e20);  // 1 nm^-4 = 1e28 cm^-4
      EXPECT_TRUE(fit.law_holds);
    }
    EXPECT_EQ(fit_porod(curve).first, 0);  // the law holds everywhere
  }
}

// I(0) = 22924.41 1/cm, K = 3.667906e29 cm^-5 for phi 0.3, a 5 nm, SiO2 (reference table 5.3). A noiseless curve
// without uncertainties; K may be off by the law's tolerance, 1 %, by construction of the window.
TEST(Porod, FindsTheConstantOfARandomTwoPhaseSystem) {
  const Curve curve = random_two_phase(log_grid(0.01, 20.0, 400), 5.0, 0.3, silica_contrast);
  EXPECT_NEAR(curve.intensity[0], 22924.41 / std::pow(1.0 + 0.0025, 2), 0.01);
  const PorodFit fit = fit_porod(curve);
  EXPECT_NEAR(fit.constant_per_cm5.value / 3.667906e29, 1.0, 0.01);
  EXPECT_TRUE(std::isnan(fit.chi2));
}

TEST(Porod, KnowsTheInfluenceOfEveryPoint) {
  std::mt19937_64 random(3);
  const Curve curve = draw(noisy_two_phase(0.003), random);
  const PorodFit fit = fit_porod(curve);
  ASSERT_TRUE(fit.next_term_fitted);
  // The fit is linear in the intensities: the influence reproduces the results to rounding.
  EXPECT_NEAR(fit.constant.influence.dot(curve.intensity), fit.constant.value, 1e-8 * std::abs(fit.constant.value));
  EXPECT_NEAR(fit.background.influence.dot(curve.intensity), fit.background.value,
              1e-8 * fit.background.influence.cwiseProduct(curve.intensity).cwiseAbs().maxCoeff());
  EXPECT_EQ(fit.constant.influence.head(fit.first).cwiseAbs().maxCoeff(), 0.0);
  // u: the curve's covariance and the tolerance of the law, as a cause of its own.
  const double own = fit.constant.causes.at("Porod's law");
  EXPECT_NEAR(own, 0.01 * fit.constant.value, 1e-12);
  EXPECT_NEAR(fit.constant.u, std::sqrt(variance_of_summary(fit.constant.influence, curve) + own * own),
              1e-9 * fit.constant.u);
}

TEST(Porod, MovesWithACommonScaleOnly) {
  Curve curve = noisy_two_phase(0.003, 0.0);
  curve.causes["absolute scale"] = {CauseKind::coherent, 0.05 * curve.intensity};
  const PorodFit fit = fit_porod(curve);
  EXPECT_NEAR(fit.constant.influence.dot(curve.causes.at("absolute scale").u), 0.05 * fit.constant.value,
              1e-9 * fit.constant.value);
  // A flat error, as of a background's scale, goes into B and leaves K alone.
  EXPECT_NEAR(fit.constant.influence.sum(), 0.0, 1e-6 * fit.constant.influence.cwiseAbs().sum());
  EXPECT_NEAR(fit.background.influence.sum(), 1.0, 1e-8);
}

// Coverage by simulation, the window chosen anew in each draw. Two-term fits of these windows would cover some 10 %.
// The bound, 88 %, says what is claimed: 95 % nominal, less what a next-but-one term and the choice of the window cost
// (measured here: 93 to 97 %; 300 draws have a binomial sd of 1.3 %).
TEST(Porod, StatesAnUncertaintyThatCovers) {
  for (double relative : {0.001, 0.003, 0.01}) {
    std::mt19937_64 random(17);
    const Curve truth = noisy_two_phase(relative);
    int in95 = 0;
    for (int k = 0; k < 300; ++k) in95 += fit_porod(draw(truth, random)).constant.band95.contains(k_two_phase);
    EXPECT_GT(in95, 0.88 * 300) << relative;
  }
}

// S/V = 3 phi / R32 with R32 = R0 exp(5 s^2 / 2) (reference table, 5.3 and 5.4): the surface of a polydisperse
// suspension. Its remaining ripples are a systematic error: 5 % allows for them at this width.
TEST(Porod, FindsTheSurfaceOfPolydisperseSpheres) {
  const double r32 = 5.0 * std::exp(2.5 * 0.09);
  Curve curve = lognormal_spheres(log_grid(0.05, 6.0, 300), 5.0, 0.3, 0.1, silica_contrast);
  curve = with_counting_u(curve, 1e-4);
  const PorodFit fit = fit_porod(curve);
  EXPECT_TRUE(fit.law_holds);
  EXPECT_NEAR(fit.constant.value / porod_constant(0.3 / r32), 1.0, 0.05);
}

TEST(Porod, WarnsWhereThePlateauIsNotReached) {
  // Equal spheres ripple for ever: q^4 I never is flat.
  const Curve ripples = with_counting_u(sphere_curve(log_grid(0.05, 3.0, 300), 10.0, 100.0), 1e-3);
  const PorodFit fit = fit_porod(ripples);
  EXPECT_FALSE(fit.law_holds);
  ASSERT_FALSE(fit.warnings.empty());
  EXPECT_NE(fit.warnings[0].find("not flat"), std::string::npos) << fit.warnings[0];
}

TEST(Porod, WarnsWhereTheConstantIsLostInTheBackground) {
  std::mt19937_64 random(9);
  const Eigen::VectorXd q = log_grid(1.0, 5.0, 60);
  Curve curve = bare(q, 1e-3 * q.array().pow(-4) + 1.0);
  curve.private_u.setConstant(0.01);
  const PorodFit fit = fit_porod(draw(curve, random));
  std::string all;
  for (const std::string& warning : fit.warnings) all += warning;
  EXPECT_TRUE(all.find("too uncertain") != std::string::npos || all.find("not positive") != std::string::npos) << all;
}

TEST(Porod, RefusesAShortRangeWithTheCurvesOwn) {
  try {
    fit_porod(noisy_two_phase(0.003), {.q_range_per_nm = Range{4.9, 9.0}});
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.problem().find("1 points lie between q = 4.9 and 9"), std::string::npos) << error.what();
    EXPECT_NE(error.mend().find("0.05 to 5 1/nm"), std::string::npos);
  }
  EXPECT_THROW(fit_porod(crop(noisy_two_phase(0.003), 4.5, 5.0)), InputError);
}

// Porod's law through smooth walls, with density fluctuations B + F q^2; every point to `relative`.
Curve fluctuating(double relative, double growth, double sigma_nm) {
  const Eigen::ArrayXd q = log_grid(0.8, 6.0, 160), q2 = q.square();
  Curve curve =
      bare(q, k_two_phase * q2.pow(-2) * (-sigma_nm * sigma_nm * q2).exp() + 0.05 + growth * q2, IntensityUnit::per_cm);
  curve.private_u = relative * curve.intensity;
  return curve;
}

// 300 draws have a binomial sd of 1.3 %: 93 to 98 % is asked for, here to 91. Measured: K 94 to 96 %, s 92 to 95 %, F
// 94 %.
TEST(Porod, RicherLawsCoverTheirTruthAndThePlainLawDoesNot) {
  struct Case {
    double growth, sigma;
    PorodOptions options;
  };
  const Range window{0.8, 6.0};
  // The law is exact here, so its tolerance is taken away: the counts alone must cover.
  for (Case c :
       {Case{0.004, 0.0, {.q_range_per_nm = window, .background = TailBackground::square}},
        Case{0.0, 0.15, {.q_range_per_nm = window, .walls = Walls::smooth}},
        Case{0.004, 0.15, {.q_range_per_nm = window, .background = TailBackground::square, .walls = Walls::smooth}}}) {
    c.options.law_tolerance = 1e-6;
    std::mt19937_64 random(23);
    const Curve truth = fluctuating(0.01, c.growth, c.sigma);
    int rich = 0, poor = 0, needed = 0, layer = 0, growth = 0;
    for (int k = 0; k < 300; ++k) {
      const Curve curve = draw(truth, random);
      const PorodFit fit = fit_porod(curve, c.options);
      rich += fit.constant.band95.contains(k_two_phase);
      needed += fit.richer_needed;
      layer += fit.layer_nm2.band95.contains(c.sigma * c.sigma);
      growth += fit.growth.band95.contains(c.growth);
      poor += fit_porod(curve, {.q_range_per_nm = window, .law_tolerance = 1e-6}).constant.band95.contains(k_two_phase);
    }
    EXPECT_GE(rich, 0.91 * 300);
    EXPECT_GE(c.sigma > 0.0 ? layer : 300, 0.90 * 300);
    EXPECT_GE(c.growth > 0.0 ? growth : 300, 0.90 * 300);
    EXPECT_LT(poor, 0.2 * 300);
    EXPECT_GT(needed, 0.99 * 300);
  }
}

// Under the plain law the criterion cries wolf in about 1 % of the draws (its level; less, as the law's tolerance is
// forgiven), and u(K) is wider than that of the plain law.
TEST(Porod, SaysThatARicherLawIsNotNeeded) {
  std::mt19937_64 random(29);
  const Curve truth = fluctuating(0.01, 0.0, 0.0);
  const PorodOptions plain{.q_range_per_nm = Range{0.8, 6.0}, .law_tolerance = 1e-6};
  PorodOptions rich = plain;
  rich.background = TailBackground::square;
  rich.walls = Walls::smooth;
  int needed = 0;
  for (int k = 0; k < 300; ++k) {
    const Curve curve = draw(truth, random);
    const PorodFit fit = fit_porod(curve, rich);
    needed += fit.richer_needed;
    if (k > 0) continue;
    EXPECT_GT(fit.constant.u, 1.2 * fit_porod(curve, plain).constant.u);
    EXPECT_NE(fit.warnings[0].find("not needed"), std::string::npos);
  }
  EXPECT_LE(needed, 9);  // 3 expected, sd 1.7
}

TEST(Porod, FindsItsWindowForARicherLaw) {
  std::mt19937_64 random(31);
  const Curve curve = draw(fluctuating(0.01, 0.004, 0.0), random);
  const PorodFit fit = fit_porod(curve, {.background = TailBackground::square});
  EXPECT_TRUE(fit.law_holds);
  EXPECT_TRUE(fit.richer_needed);
  EXPECT_NEAR(fit.constant.value, k_two_phase, 3.0 * fit.constant.u);
  EXPECT_NEAR(fit.growth.value, 0.004, 3.0 * fit.growth.u);
  // The background and the whole law at a point, by hand.
  const Eigen::VectorXd at = Eigen::VectorXd::Constant(1, 3.0);
  const double b = fit.background.value + 9.0 * fit.growth.value;
  EXPECT_NEAR(porod_background(fit, at)[0], b, 1e-12);
  EXPECT_NEAR(porod_intensity(fit, at)[0], fit.constant.value / 81.0 + fit.next_term.value / 729.0 + b, 1e-9);
  const CurveSum sum = background_sum(fit, at, at);
  EXPECT_NEAR(sum.value, 3.0 * b, 1e-12);
  EXPECT_NEAR((sum.influence - 3.0 * (fit.background.influence + 9.0 * fit.growth.influence)).norm(), 0.0, 1e-12);
}

// A smooth wall takes its share from the tail: K [exp(-s x^2)/x - sqrt(pi s) erfc(sqrt(s) x)], against the closed form;
// the width of the layer is sqrt(s), with the ends of its band.
TEST(Porod, ASmoothWallShortensTheTail) {
  const PorodFit fit =
      fit_porod(fluctuating(0.01, 0.0, 0.15), {.q_range_per_nm = Range{0.8, 6.0}, .walls = Walls::smooth});
  const double s = fit.layer_nm2.value, x = 2.0;
  EXPECT_NEAR(surface_tail(fit, x).value,
              fit.constant.value * (std::exp(-s * x * x) / x - std::sqrt(pi * s) * std::erfc(std::sqrt(s) * x)), 1e-9);
  const Estimate width = layer_width_nm(fit);
  EXPECT_NEAR(width.value, std::sqrt(s), 1e-12);
  EXPECT_NEAR(width.value, 0.15, 2.0 * width.u);
  EXPECT_NEAR(width.band95.high, std::sqrt(fit.layer_nm2.band95.high), 1e-12);
}

}  // namespace
}  // namespace sievelight
