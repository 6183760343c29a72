// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/trade_off.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

// Log-normal spheres with 3 % noise.
Curve spheres() {
  const Eigen::Index n = 120;
  Curve c;
  c.q_per_nm.resize(n);
  c.intensity.resize(n);
  c.unit = IntensityUnit::per_cm;
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double q = 0.1 * std::pow(25.0, static_cast<double>(i) / (n - 1));
    double sum = 0;
    for (int k = -60; k <= 60; ++k) {
      const double z = k / 20.0, r = 6 * std::exp(0.25 * z), x = q * r;
      const double form = 3 * (std::sin(x) - x * std::cos(x)) / (x * x * x);
      sum += std::exp(-0.5 * z * z) * std::pow(r, 3) * form * form;
    }
    c.q_per_nm[i] = q;
    c.intensity[i] = sum / 300 + 0.02;
  }
  c.private_u = 0.03 * c.intensity;
  for (Eigen::Index i = 0; i < n; ++i) c.intensity[i] += c.private_u[i] * normal(random);
  return c;
}

TEST(TradeOff, MisfitGrowsAndRoughnessFallsWithStrength) {
  const TradeOff t = trade_off(spheres());
  ASSERT_GT(t.ln_strength.size(), 40);
  for (Eigen::Index k = 1; k < t.ln_strength.size(); ++k) {
    // Both are monotonic along the path of any convex penalty (Hansen 1992); rounding of weak fits is forgiven.
    EXPECT_GT(t.ln_strength[k], t.ln_strength[k - 1]);
    EXPECT_GE(t.chi2_per_point[k], t.chi2_per_point[k - 1] * (1 - 1e-6));
    EXPECT_LE(t.roughness[k], t.roughness[k - 1] * (1 + 1e-6));
  }
}

TEST(TradeOff, MarksTheStrengthsThatTheQuickMethodsChoose) {
  const Curve curve = spheres();
  const TradeOff t = trade_off(curve);
  InvertOptions options;
  const auto chosen = [&](InversionMethod method) {
    options.method = method;
    return invert(curve, options).ln_strength.at(name(method)).value;
  };
  // The quick methods look at half decades around the best; the path here at quarters.
  const double half_decade = 0.5 * std::log(10.0) + 1e-9;
  EXPECT_NEAR(t.ln_strength[t.by_evidence], chosen(InversionMethod::evidence), half_decade);
  EXPECT_NEAR(t.ln_strength[t.by_cross_validation], chosen(InversionMethod::cross_validation), half_decade);
  EXPECT_NEAR(t.ln_strength[t.at_corner], chosen(InversionMethod::l_curve), 1e-9);
  EXPECT_DOUBLE_EQ(t.ln_evidence[t.by_evidence], 0.0);
  EXPECT_DOUBLE_EQ(t.cross_validation[t.by_cross_validation], 1.0);
  EXPECT_NEAR(t.chi2_per_point[t.by_evidence], 1.0, 4 * std::sqrt(2.0 / 120));  // right sigmas: chi^2 of 120 points
  EXPECT_EQ(t.density.rows(), t.diameter_nm.size());
  EXPECT_DOUBLE_EQ(t.density.maxCoeff(), 1.0);
}

TEST(TradeOff, RefusesWhatCannotBeInverted) {
  Curve curve = spheres();
  curve.intensity.setConstant(-1);
  EXPECT_THROW(trade_off(curve), Error);
}

}  // namespace
}  // namespace sievelight
