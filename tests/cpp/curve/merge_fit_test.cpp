// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/merge_fit.hpp"

#include "curve/two_configurations.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::VectorXd;

VectorXd variance_of(const Curve& a, const Curve& b, double relative) {
  VectorXd out(a.size() + b.size());
  out << a.intensity, b.intensity;
  return (relative * out.array()).square();
}

// The same smooth curve through other bins: the ratio is 1 whatever their widths, although I(q_mean) is not the mean of
// I. The mean over a bin of width w at q^-4 differs from the middle by (20/24)(w/q)^2, here up to 0.2 %.
TEST(MergeFit, SeesThroughTheBins) {
  const Intensity steep = [](double q) { return std::pow(q, -4.0); };
  const Curve a = binned(steep, 0.5, 1.5, 40), b = binned(steep, 0.48, 1.52, 20, false);
  const CommonFit fit = fit_common_curve(a, b, variance_of(a, b, 1e-6), std::nullopt, false);
  EXPECT_NEAR(fit.log_ratio, 0.0, 2e-6);
  Curve points_a = a, points_b = b;
  for (Curve* c : {&points_a, &points_b}) {
    c->q_low_per_nm.resize(0);
    c->q_high_per_nm.resize(0);
  }
  const CommonFit naive = fit_common_curve(points_a, points_b, variance_of(a, b, 1e-6), std::nullopt, false);
  EXPECT_GT(std::abs(naive.log_ratio), 1e-4);  // what taking bins for points would cost
}

// Source: the convolution of exp(-q^2/2s^2) with a Gaussian of variance w^2 is s/sqrt(s^2+w^2) exp(-q^2/2(s^2+w^2)).
// A rule of three points leaves the blur's sixth moment out: (15 - 9) (w q / s^2)^6 / 720 = 1e-5 at most here.
TEST(MergeFit, SeesThroughTheResolution) {
  const double s = 0.5;
  const auto blurred = [&](double w) {
    return [=](double q) { return s / std::hypot(s, w) * std::exp(-q * q / (2 * (s * s + w * w))); };
  };
  Curve a = binned(blurred(0.01), 0.5, 1.0, 40), b = binned(blurred(0.08), 0.5, 1.0, 25);
  a.q_resolution_per_nm = VectorXd::Constant(40, 0.01);
  b.q_resolution_per_nm = VectorXd::Constant(25, 0.08);
  const VectorXd variance = variance_of(a, b, 1e-5);
  EXPECT_NEAR(fit_common_curve(a, b, variance, std::nullopt, true).log_ratio, 0.0, 3e-5);
  EXPECT_GT(std::abs(fit_common_curve(a, b, variance, std::nullopt, false).log_ratio), 1e-2);
}

TEST(MergeFit, InfluenceIsTheDerivative) {
  const Curve a = binned(two_phase, 0.3, 0.8, 12), b = binned(two_phase, 0.3, 0.8, 9, false);
  const VectorXd variance = variance_of(a, b, 0.01);
  const CommonFit fit = fit_common_curve(a, b, variance, std::nullopt, false);
  for (const Eigen::Index i : {Eigen::Index{2}, Eigen::Index{14}}) {
    Curve up_a = a, up_b = b;
    const double step = 1e-4 * (i < 12 ? a.intensity[i] : b.intensity[i - 12]);
    (i < 12 ? up_a.intensity[i] : up_b.intensity[i - 12]) += step;
    const double slope = (fit_common_curve(up_a, up_b, variance, std::nullopt, false).log_ratio - fit.log_ratio) / step;
    EXPECT_NEAR(fit.influence[i], slope, 2e-3 * std::abs(slope));
  }
  // Scaling a whole curve by 1 + e moves the log of the ratio by e.
  EXPECT_NEAR(fit.influence.head(12).dot(fit.model.head(12)), -1.0, 1e-9);
  EXPECT_NEAR(fit.influence.tail(9).dot(fit.model.tail(9)), 1.0, 1e-9);
}

TEST(MergeFit, KeepsAFixedRatio) {
  const Curve a = binned(two_phase, 0.3, 0.8, 12), b = binned(two_phase, 0.3, 0.8, 9, false);
  const CommonFit fit = fit_common_curve(a, b, variance_of(a, b, 0.01), 0.1, false);
  EXPECT_EQ(fit.log_ratio, 0.1);
  EXPECT_FALSE(fit.influence.any());
}

TEST(MergeFit, RefusesWhatHasNoRatio) {
  Curve a = binned(two_phase, 0.3, 0.8, 12), b = a;
  b.intensity.setConstant(-1);
  EXPECT_NE(refusal<NumericalError>([&] {
              fit_common_curve(a, b, variance_of(a, b, 0.1), std::nullopt, false);
            }).find("is not positive"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
