// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/correlation.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/curve/influence.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

using namespace synthetic;

constexpr double silica_contrast = 18.6408e10;  // 1/cm2

Curve two_phase(double q_low, double q_high, Eigen::Index points, double relative) {
  return with_counting_u(random_two_phase(log_grid(q_low, q_high, points), 5.0, 0.3, silica_contrast), relative);
}

CorrelationFunction of(const Curve& curve, Range window, const CorrelationOptions& options = {}) {
  return correlation_function(curve, fit_guinier(curve, {.q_rg_max = 0.8}),
                              fit_porod(curve, {.q_range_per_nm = window}), options);
}

// Random two-phase system: gamma = exp(-r/a), l_p = a, correlation length 2a, volume 8 pi a^3, g = exp(-r/a)/a (Debye,
// Anderson, Brumberger 1957; reference table 5.3 for l_p = a). A wide, nearly noiseless curve; what is left: Guinier's
// continuation (10 % of a share of 1e-5), the law K q^-4 from q a = 50 on (2/2500), trapezoids (2e-4).
TEST(Correlation, OfARandomTwoPhaseSystemIsAnExponential) {
  const Curve curve = two_phase(0.004, 40.0, 800, 1e-5);
  const CorrelationFunction c = of(curve, {10.0, 40.0});
  EXPECT_NEAR(c.porod_length_nm.value, 5.0, 0.01);
  EXPECT_NEAR(c.correlation_length_nm.value, 10.0, 0.02);
  EXPECT_NEAR(c.correlation_volume_nm3->value / (8.0 * pi * 125.0), 1.0, 0.005);
  EXPECT_NEAR(c.correlation.value[0], 1.0, 1e-12);
  EXPECT_NEAR(c.correlation.u[0], 0.0, 1e-12);
  for (Eigen::Index i = 0; i < c.r_nm.size(); ++i) {
    const double truth = std::exp(-c.r_nm[i] / 5.0);
    EXPECT_NEAR(c.correlation.value[i], truth, 5e-4) << c.r_nm[i];
    if (c.r_nm[i] > c.resolution_nm) {
      EXPECT_NEAR(c.chords_per_nm.value[i], truth / 5.0, 1e-3) << c.r_nm[i];
    }
  }
  ASSERT_TRUE(c.start_length_nm);
  EXPECT_NEAR(c.start_length_nm->value, 5.0, 0.05);
  EXPECT_TRUE(c.warnings.empty()) << c.warnings[0];
}

// A sphere: gamma = 1 - 3r/4R + r^3/16R^3, correlation length 3R/2, mean chord 4R/3, g = r / (2 R^2) up to 2R (Guinier,
// Fournet 1955; reference table 5.1). Its ripples never end; the law in their place from x = 8/nm on leaves their
// integral out, K / (2 x^3 R) of Q in gamma (1e-3 here) and more in g at 0 and at the cliff at 2R.
TEST(Correlation, OfASphereIsItsCubic) {
  const double radius = 10.0;
  const Eigen::VectorXd q = Eigen::VectorXd::LinSpaced(6000, 0.003, 20.0);
  Curve curve = sphere_curve(q, radius, 100.0);
  curve.private_u = 1e-3 / (1.0 + (q.array() * radius).pow(4) / 4.5);
  const CorrelationFunction c =
      correlation_function(curve, fit_guinier(curve, {.q_rg_max = 0.5}),
                           fit_porod(curve, {.q_range_per_nm = Range{8.0, 20.0}}), {.r_max_nm = 25.0});
  for (Eigen::Index i = 0; i < c.r_nm.size(); ++i) {
    const double r = c.r_nm[i], x = r / radius;
    EXPECT_NEAR(c.correlation.value[i], x < 2.0 ? 1.0 - 0.75 * x + x * x * x / 16.0 : 0.0, 1e-3) << r;
    // g falls off a cliff at 2R, seen through the resolution.
    if (r > 4.0 * c.resolution_nm && std::abs(r - 2.0 * radius) > 4.0 * c.resolution_nm) {
      EXPECT_NEAR(c.chords_per_nm.value[i], x < 2.0 ? r / (2.0 * radius * radius) : 0.0, 0.01) << r;
    }
  }
  EXPECT_NEAR(c.correlation_length_nm.value, 1.5 * radius, 0.01);
  EXPECT_NEAR(c.porod_length_nm.value, 4.0 * radius / 3.0, 0.02 * radius);
  EXPECT_NEAR(c.correlation_volume_nm3->value / (4.0 / 3.0 * pi * 1000.0), 1.0, 0.01);
}

// Area 1 and mean l_p of g, whatever the system (two integrations by parts of r gamma'').
TEST(Correlation, ChordsHaveAreaOneAndThePorodLengthAsMean) {
  const CorrelationFunction c = of(two_phase(0.004, 40.0, 800, 1e-5), {10.0, 40.0}, {.r_max_nm = 80.0});
  double area = 0.0, mean = 0.0;
  for (Eigen::Index i = 1; i < c.r_nm.size(); ++i) {
    const double step = c.r_nm[i] - c.r_nm[i - 1];
    area += 0.5 * step * (c.chords_per_nm.value[i] + c.chords_per_nm.value[i - 1]);
    mean += 0.5 * step * (c.chords_per_nm.value[i] * c.r_nm[i] + c.chords_per_nm.value[i - 1] * c.r_nm[i - 1]);
  }
  EXPECT_NEAR(area, 1.0, 0.01);
  EXPECT_NEAR(mean, c.porod_length_nm.value, 0.01 * c.porod_length_nm.value);
}

// The closed forms of the tail against Simpson's rule to q = 4000 and the asymptotic rest below 1e-7, and the second
// derivative against differences of order 0.
TEST(Correlation, TailKernelsAreTheirIntegrals) {
  for (const double r : {0.2, 1.0, 7.0}) {
    const double x = 1.3, h = 1e-4;
    double k = 0.0, c = 0.0;
    const int steps = 4000000;
    const double width = (4000.0 - x) / steps;
    for (int i = 0; i <= steps; ++i) {
      const double q = x + width * i, f = std::sin(q * r) / (q * r) *
                                          (i == 0 || i == steps ? 1.0
                                           : i % 2 == 1         ? 4.0
                                                                : 2.0);
      k += f / (q * q), c += f / std::pow(q, 4);
    }
    const TailKernel t = tail_kernel(0, r, x);
    EXPECT_NEAR(t.per_k, k * width / 3.0, 1e-7);
    EXPECT_NEAR(t.per_c, c * width / 3.0, 1e-8);
    const TailKernel up = tail_kernel(0, r + h, x), down = tail_kernel(0, r - h, x), second = tail_kernel(2, r, x);
    EXPECT_NEAR(second.per_k, (up.per_k - 2.0 * t.per_k + down.per_k) / (h * h), 1e-5);
    EXPECT_NEAR(second.per_c, (up.per_c - 2.0 * t.per_c + down.per_c) / (h * h), 1e-5);
  }
  // Continuous at r = 0.
  for (const int order : {0, 2}) {
    const TailKernel zero = tail_kernel(order, 0.0, 1.3), near = tail_kernel(order, 1e-5, 1.3);
    EXPECT_NEAR(near.per_k, zero.per_k, 2e-5) << order;
    EXPECT_NEAR(near.per_c, zero.per_c, 2e-5) << order;
  }
}

// Linear maps with the windows fixed: the influence times a small change of the curve is the change of the result.
TEST(Correlation, InfluenceIsTheDerivative) {
  const Curve curve = two_phase(0.03, 5.0, 160, 0.003);
  const Eigen::VectorXd r = Eigen::VectorXd::LinSpaced(81, 0.0, 40.0);
  const auto fixed = [&](const Curve& of) {
    return correlation_function(of, fit_guinier(of, {.q_range_per_nm = Range{0.03, 0.15}}),
                                fit_porod(of, {.q_range_per_nm = Range{1.5, 5.0}}), {.r_nm = r});
  };
  const CorrelationFunction c = fixed(curve);
  Curve moved = curve;
  for (Eigen::Index i = 0; i < moved.size(); ++i)
    moved.intensity[i] += 0.01 * moved.private_u[i] * static_cast<double>(i % 3 - 1);
  const CorrelationFunction d = fixed(moved);
  const Eigen::VectorXd step = moved.intensity - curve.intensity;
  const Eigen::VectorXd first = c.correlation.influence * step, second = c.chords_per_nm.influence * step;
  EXPECT_LT((d.correlation.value - c.correlation.value - first).cwiseAbs().maxCoeff(),
            0.02 * first.cwiseAbs().maxCoeff());
  EXPECT_LT((d.chords_per_nm.value - c.chords_per_nm.value - second).cwiseAbs().maxCoeff(),
            0.02 * second.cwiseAbs().maxCoeff());
  // u: the curve's covariance and the own causes.
  double variance = variance_of_summary(c.correlation.influence.row(40).transpose(), curve);
  for (const auto& [id, sd] : c.correlation.causes) variance += sd[40] * sd[40];
  EXPECT_NEAR(c.correlation.u[40], std::sqrt(variance), 1e-12);
  EXPECT_NEAR(c.correlation.band95()(40, 1), c.correlation.value[40] + 1.959964 * c.correlation.u[40], 1e-6);
  EXPECT_NEAR(c.correlation.band68()(40, 0), c.correlation.value[40] - c.correlation.u[40], 1e-15);
}

TEST(Correlation, ACommonScaleMovesNothing) {
  Curve curve = two_phase(0.03, 5.0, 160, 0.003);
  curve.causes["absolute scale"] = {CauseKind::coherent, 0.05 * curve.intensity};
  const CorrelationFunction c = of(curve, {1.5, 5.0});
  const Eigen::VectorXd shift = c.correlation.influence * curve.causes.at("absolute scale").u;
  EXPECT_LT(shift.cwiseAbs().maxCoeff(), 1e-9);
  EXPECT_LT((c.chords_per_nm.influence * curve.causes.at("absolute scale").u).cwiseAbs().maxCoeff(), 1e-9);
}

// Coverage over draws of an ordinary curve (q a from 0.15 to 25, windows chosen anew): counts and a wrong background of
// 1 % as coherent cause. Points 0.5 a to 3 a. The causes of the laws are systematic and wider than the noise, so the
// bands may cover more than they say. Measured: gamma 95 to 97 %, g 94 to 100 %, the counts' share alone 94 to 96 %.
TEST(Correlation, BandsCoverTheTruth) {
  std::mt19937_64 random(41);
  Curve truth = two_phase(0.03, 5.0, 200, 0.003);
  truth.causes["background scale"] = {CauseKind::coherent, Eigen::VectorXd::Constant(200, 0.02)};
  Eigen::VectorXd r(5);
  r << 2.5, 5.0, 7.5, 10.0, 15.0;
  const int draws = 300;
  Eigen::VectorXi gamma = Eigen::VectorXi::Zero(5), chords = gamma, own_gamma = gamma, own_chords = gamma;
  // What the same windows make of the noiseless curve: the bands without the laws' own causes must hold that.
  const Curve still = truth;
  int length = 0;
  for (int k = 0; k < draws; ++k) {
    const Curve curve = draw(truth, random);
    const GuinierFit guinier = fit_guinier(curve, {.q_range_per_nm = Range{0.03, 0.15}});
    const PorodFit porod = fit_porod(curve);
    const CorrelationFunction c = correlation_function(curve, guinier, porod, {.r_nm = r});
    length += c.porod_length_nm.band95.contains(5.0);
    const PorodFit plain = fit_porod(curve, {.q_range_per_nm = Range{1.5, 5.0}});
    const CorrelationFunction a = correlation_function(curve, guinier, plain, {.r_nm = r}),
                              b = correlation_function(still, fit_guinier(still, {.q_range_per_nm = Range{0.03, 0.15}}),
                                                       fit_porod(still, {.q_range_per_nm = Range{1.5, 5.0}}),
                                                       {.r_nm = r});
    for (Eigen::Index i = 0; i < 5; ++i) {
      const double expected = std::exp(-r[i] / 5.0);
      gamma[i] += std::abs(c.correlation.value[i] - expected) < 1.96 * c.correlation.u[i];
      chords[i] += std::abs(c.chords_per_nm.value[i] - expected / 5.0) < 1.96 * c.chords_per_nm.u[i];
      const auto counted = [&](const CurveEstimates& e) {
        return std::sqrt(variance_of_summary(e.influence.row(i).transpose(), curve));
      };
      own_gamma[i] += std::abs(a.correlation.value[i] - b.correlation.value[i]) < 1.96 * counted(a.correlation);
      own_chords[i] += std::abs(a.chords_per_nm.value[i] - b.chords_per_nm.value[i]) < 1.96 * counted(a.chords_per_nm);
    }
  }
  for (Eigen::Index i = 0; i < 5; ++i) {
    EXPECT_GE(gamma[i], 0.93 * draws) << r[i];
    EXPECT_GE(chords[i], 0.93 * draws) << r[i];
    EXPECT_GE(own_gamma[i], 0.92 * draws) << r[i];  // sd of 300 draws 1.3 %
    EXPECT_LE(own_gamma[i], 0.98 * draws) << r[i];
    EXPECT_GE(own_chords[i], 0.92 * draws) << r[i];
    EXPECT_LE(own_chords[i], 0.98 * draws) << r[i];
  }
  EXPECT_GE(length, 0.91 * draws);
}

// The same for distances that repeat, gamma = exp(-r/x) sin(kr)/(kr), whose curve has a peak and no Guinier range
// (Teubner, Strey 1987; see tests/reference/test_two_phase.py): flat start, automatic windows, 3 % noise. 300 draws,
// sd 1.3 %.
TEST(Correlation, BandsCoverWhereDistancesRepeat) {
  const double length = 8.0, k = 2.0 * pi / 20.0, h = 1e-3;
  const Eigen::VectorXd q = log_grid(0.03, 5.0, 200);
  const double a2 = std::pow(k * k + 1.0 / (length * length), 2), c1 = 2.0 * (1.0 / (length * length) - k * k);
  Curve truth = bare(q, (a2 + c1 * q.array().square() + q.array().pow(4)).inverse());
  truth.intensity.array() += 1e-4;
  truth.private_u = 0.03 * truth.intensity;
  const auto gamma = [&](double r) { return std::exp(-r / length) * std::sin(k * r) / (k * r); };
  Eigen::VectorXd r(4);
  r << 4.0, 8.0, 12.0, 20.0;
  std::mt19937_64 random(47);
  Eigen::VectorXi hold = Eigen::VectorXi::Zero(4), chords = hold;
  const int draws = 300;
  for (int n = 0; n < draws; ++n) {
    const Curve curve = draw(truth, random);
    const CorrelationFunction c = correlation_function(curve, std::nullopt, fit_porod(curve), {.r_nm = r});
    for (Eigen::Index i = 0; i < 4; ++i) {
      const double g = length * (gamma(r[i] + h) - 2.0 * gamma(r[i]) + gamma(r[i] - h)) / (h * h);
      hold[i] += std::abs(c.correlation.value[i] - gamma(r[i])) < 1.96 * c.correlation.u[i];
      chords[i] += std::abs(c.chords_per_nm.value[i] - g) < 1.96 * c.chords_per_nm.u[i];
    }
  }
  for (Eigen::Index i = 0; i < 4; ++i) {
    EXPECT_GE(hold[i], 0.91 * draws) << r[i];
    EXPECT_GE(chords[i], 0.91 * draws) << r[i];
  }
}

// A tail over the wrong window: half the K would start gamma at twice the length.
TEST(Correlation, WarnsWhereTheStartContradictsThePorodLength) {
  const Curve curve = two_phase(0.01, 10.0, 400, 1e-3);
  PorodFit porod = fit_porod(curve, {.q_range_per_nm = Range{3.0, 10.0}});
  porod.constant = scaled(porod.constant, 0.5);
  const CorrelationFunction c = correlation_function(curve, fit_guinier(curve, {.q_rg_max = 0.8}), porod);
  std::string all;
  for (const std::string& warning : c.warnings) all += warning;
  EXPECT_NE(all.find("does not belong to the rest"), std::string::npos) << all;
}

// The check cries wolf neither for another system nor for noise: log-normal spheres, whose Porod constant is right.
TEST(Correlation, DoesNotDoubtAGoodPorodConstant) {
  std::mt19937_64 random(43);
  for (const double relative : {0.003, 0.01, 0.03}) {
    Curve truth = lognormal_spheres(log_grid(0.03, 5.0, 200), 4.0, 0.35, 0.1, silica_contrast);
    truth.private_u = relative * truth.intensity;
    int doubted = 0;
    for (int k = 0; k < 40; ++k) {
      const Curve curve = draw(truth, random);
      const CorrelationFunction c = correlation_function(curve, fit_guinier(curve), fit_porod(curve));
      for (const std::string& warning : c.warnings) doubted += warning.find("does not belong") != std::string::npos;
    }
    EXPECT_LE(doubted, 1) << relative;
  }
}

// Density fluctuations, B + F q^2, go with the Porod fit's own background: gamma and the invariant are those of the
// system without them, to what the law K q^-4 from q a = 15 on leaves (1 % of the tail's 8 % of Q).
TEST(Correlation, ARisingBackgroundIsTakenOff) {
  Curve curve = two_phase(0.01, 10.0, 600, 1e-5);
  const double total =
      invariant(curve, std::nullopt, fit_porod(curve, {.q_range_per_nm = Range{3.0, 10.0}})).value.value;
  curve.intensity.array() += 0.05 + 0.004 * curve.q_per_nm.array().square();
  curve.private_u = 1e-4 * curve.intensity;
  const PorodFit porod = fit_porod(curve, {.q_range_per_nm = Range{3.0, 10.0}, .background = TailBackground::square});
  EXPECT_TRUE(porod.richer_needed);
  const CorrelationFunction c = correlation_function(curve, std::nullopt, porod);
  EXPECT_NEAR(c.total.value.value / total, 1.0, 2e-3);
  for (Eigen::Index i = 0; i < c.r_nm.size(); ++i)
    EXPECT_NEAR(c.correlation.value[i], std::exp(-c.r_nm[i] / 5.0), 2e-3) << c.r_nm[i];
}

TEST(Correlation, RefusesWhatItCannotContinue) {
  const Curve curve = two_phase(0.03, 5.0, 160, 0.003);
  const GuinierFit guinier = fit_guinier(curve, {.q_rg_max = 0.8});
  const PorodFit smooth = fit_porod(curve, {.q_range_per_nm = Range{1.0, 5.0}, .walls = Walls::smooth});
  EXPECT_THROW(correlation_function(curve, guinier, smooth), InputError);
  const PorodFit porod = fit_porod(curve, {.q_range_per_nm = Range{1.0, 5.0}});
  EXPECT_THROW(correlation_function(curve, guinier, porod, {.r_nm = Eigen::Vector2d(2.0, 1.0)}), InputError);
  PorodFit none = porod;
  none.constant = scaled(none.constant, -0.1);
  EXPECT_THROW(correlation_function(curve, guinier, none), NumericalError);
}

}  // namespace
}  // namespace sievelight
