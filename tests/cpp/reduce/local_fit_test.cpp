// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/local_fit.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/bins.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

TEST(LocalFit, FindsTheSlopeOfAPowerLawExactly) {
  const Curve c = curve_on_bins(
      log_edges(0.1, 3.0, 60), [](double q) { return 5 * std::pow(q, -4); }, 0.01);
  const Eigen::VectorXd slope = local_slope(c);
  // ln I is straight in ln q, so the quadratic has nothing to add: rounding only.
  for (int i = 0; i < 60; ++i) EXPECT_NEAR(slope[i] * c.q_per_nm[i] / c.intensity[i], -4.0, 1e-9);
}

TEST(LocalFit, FollowsACurveThatChangesSign) {
  const Curve c = curve_on_bins(
      log_edges(0.1, 3.0, 80), [](double q) { return 1 - std::log(q) * std::log(q); }, 0.0);
  const Eigen::VectorXd slope = local_slope(c);
  for (int i = 0; i < 80; ++i) {
    // The curve is a quadratic in ln q, and the better of the two fits is taken: rounding only.
    EXPECT_NEAR(slope[i] * c.q_per_nm[i], -2 * std::log(c.q_per_nm[i]), 1e-9);
  }
}

// A single point of noise e moves the slope of its window by about e/(sum x^2)^(1/2), not by e over one step.
TEST(LocalFit, DoesNotTurnNoiseIntoSlope) {
  const Eigen::VectorXd edges = log_edges(0.1, 3.0, 120);
  const Curve smooth = curve_on_bins(
      edges, [](double q) { return std::pow(q, -2); }, 0.05);
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  Curve noisy = smooth;
  for (int i = 0; i < 120; ++i) noisy.intensity[i] *= 1 + 0.05 * normal(random);
  const Eigen::VectorXd fitted = local_slope(noisy);
  double from_fit = 0, from_steps = 0;
  for (int i = 1; i < 119; ++i) {
    const double exact = -2 * std::pow(noisy.q_per_nm[i], -3);
    const double step =
        (noisy.intensity[i + 1] - noisy.intensity[i - 1]) / (noisy.q_per_nm[i + 1] - noisy.q_per_nm[i - 1]);
    from_fit += std::pow(fitted[i] / exact - 1, 2) / 118;
    from_steps += std::pow(step / exact - 1, 2) / 118;
  }
  // Equal steps h of ln q: var of the fit's slope is e^2/(h^2 sum k^2) = e^2/(110 h^2) inside, of the step e^2/(2 h^2);
  // so the ratio of standard deviations is sqrt(55) = 7.4 inside, less at the ends where the window is one-sided.
  EXPECT_LT(std::sqrt(from_fit), std::sqrt(from_steps) / 3);
  EXPECT_LT(std::sqrt(from_fit), 0.15);
}

// A Bragg peak of 1.5 bins standard deviation on a smooth tail, 1 % noise: a fixed window of +-5 bins would keep a
// third of its slope.
TEST(LocalFit, KeepsTheSlopeOfANarrowPeak) {
  const Eigen::VectorXd edges = log_edges(0.5, 2.0, 120);
  const double step = std::log(edges[1] / edges[0]), sd = 1.5 * step;
  const auto law = [&](double q) { return std::pow(q, -2) + 40 * std::exp(-0.5 * std::pow(std::log(q) / sd, 2)); };
  const Curve smooth = curve_on_bins(edges, law, 0.01);
  std::mt19937_64 random(3);
  std::normal_distribution<double> normal;
  double kept = 0, tail = 0;
  const int times = 40;
  for (int t = 0; t < times; ++t) {
    Curve noisy = smooth;
    for (int i = 0; i < 120; ++i) noisy.intensity[i] += smooth.private_u[i] * normal(random);
    const Eigen::VectorXd fitted = local_slope(noisy);
    double top = 0, exact_top = 0;
    for (int i = 0; i < 120; ++i) {
      const double h = 1e-5, q = noisy.q_per_nm[i], exact = (law(q * (1 + h)) - law(q * (1 - h))) / (2 * h * q);
      exact_top = std::max(exact_top, std::abs(exact));
      top = std::max(top, std::abs(fitted[i]));
      if (i > 5 && i < 40) tail += std::pow(fitted[i] / exact - 1, 2) / (34.0 * times);
    }
    kept += top / exact_top / times;
  }
  // Three points through a peak of 1.5 bins lose up to a fifth of the steepest slope between them.
  EXPECT_GT(kept, 0.8);
  EXPECT_LT(kept, 1.1);
  EXPECT_LT(std::sqrt(tail), 0.12);  // 1 % noise over +-5 steps of 1.2 % of q: sd of the log slope is 0.08 of 2
}

TEST(LocalFit, SmoothsVariancesOverNeighbours) {
  Eigen::VectorXd u = Eigen::VectorXd::Ones(11);
  u[5] = std::sqrt(12.0);
  const Eigen::VectorXd v = smooth_variance(u, 5);
  EXPECT_DOUBLE_EQ(v[5], 22.0 / 11);
  EXPECT_DOUBLE_EQ(v[0], 17.0 / 6);
  EXPECT_HOLDS(message<InputError>([&] { smooth_variance(u, -1); }), "half width of -1");
}

}  // namespace
}  // namespace sievelight
