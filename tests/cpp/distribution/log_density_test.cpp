// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/log_density.hpp"

#include "sievelight/distribution/smoothness.hpp"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <limits>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

struct Ready {
  FitData data;
  SizeGrid grid;
};

Ready ready(bool power_law) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {.power_law_k = 1e-3}), 1);
  const SizeGrid grid = make_grid(0.08, 1.7);
  return {make_fit_data(c, make_kernel(c, grid), synthetic::contrast_per_cm2, power_law, true), grid};
}

TEST(LogDensity, GradientIsThatOfTheValue) {
  for (const bool power_law : {false, true}) {
    const LogDensity problem = make_log_density(ready(power_law).data, 2);
    const Eigen::VectorXd g = Eigen::VectorXd::LinSpaced(problem.nodes(), -2, -1);
    Misfit at, up, down;
    evaluate(problem, g, at);
    for (const Eigen::Index j : {Eigen::Index{0}, problem.nodes() / 2, problem.nodes() - 1}) {
      const double h = 1e-5;
      Eigen::VectorXd moved = g;
      moved[j] += h;
      evaluate(problem, moved, up);
      moved[j] -= 2 * h;
      evaluate(problem, moved, down);
      const double slope = (up.value - down.value) / (2 * h);
      EXPECT_NEAR(at.gradient[j], slope, 1e-5 * (std::abs(slope) + 1e-3 * at.value)) << power_law << " " << j;
    }
  }
}

// Integrating K >= 0 out by hand: -ln of the integral over K of the half-normal prior times the likelihood, by a fine
// sum.
TEST(LogDensity, IntegratesThePowerLawOut) {
  const Ready r = ready(true);
  const LogDensity problem = make_log_density(r.data, 2);
  const Noise without(r.data.noise.u(), r.data.noise.shared().rightCols(1));
  const auto by_hand = [&](const Eigen::VectorXd& x) {
    const Eigen::VectorXd rest = without.whiten(r.data.intensity - r.data.columns * x);
    const Eigen::VectorXd k_curve = without.whiten(r.data.power_law);
    const double a0 = 0.5 * rest.squaredNorm(), a1 = rest.dot(k_curve), a2 = 0.5 * (k_curve.squaredNorm() + 1);
    const double lowest = std::max(0.0, 0.5 * a1 / a2), least = a0 - a1 * lowest + a2 * lowest * lowest;
    double sum = 0;
    for (double k = 5e-8; k < 0.1; k += 1e-7) sum += std::exp(least - (a0 - a1 * k + a2 * k * k));
    return least - std::log(sum);
  };
  const auto ours = [&](const Eigen::VectorXd& x) {
    Misfit m;
    LogDensity flat = problem;
    flat.edge_sd = 1e6;
    evaluate(flat, x.array().log(), m);
    return m.value;
  };
  // Differences between distributions, because a constant is left out.
  const Eigen::VectorXd a = r.data.start.x.array() + 0.01, b = 0.99 * a, c = a.array() + 0.002;
  EXPECT_NEAR(ours(b) - ours(a), by_hand(b) - by_hand(a), 0.01 + 1e-3 * std::abs(by_hand(b) - by_hand(a)));
  EXPECT_NEAR(ours(c) - ours(a), by_hand(c) - by_hand(a), 0.01 + 1e-3 * std::abs(by_hand(c) - by_hand(a)));
}

TEST(LogDensity, MostProbablePointHasNoSlope) {
  const Ready r = ready(false);
  const LogDensity problem = make_log_density(r.data, 2);
  const Eigen::VectorXd start = (r.data.start.x.array() + 1e-3).log();
  const MostProbable best = most_probable(problem, 3.0, start);
  EXPECT_TRUE(best.converged);
  Misfit m;
  evaluate(problem, best.g, m);
  const Eigen::VectorXd slope = m.gradient + std::exp(3.0) * problem.penalty * best.g;
  const Eigen::VectorXd x = best.g.array().exp();
  const Eigen::MatrixXd h = curvature(problem, x * x.transpose()) + std::exp(3.0) * problem.penalty;
  EXPECT_LT(slope.dot(h.llt().solve(slope)), 1e-4);  // how much lower the minimum could be
  EXPECT_NEAR((best.chi2 + r.data.compressed.rest) / 120, 1.0, 5 * std::sqrt(2.0 / 120));
}

TEST(LogDensity, StrongerSmoothnessFitsWorseWithFewerParameters) {
  const Ready r = ready(false);
  for (const int order : {2, 3}) {
    const LogDensity problem = make_log_density(r.data, order);
    const auto path =
        most_probable_path(problem, ln_strength_range(r.grid.step, order), 25, (r.data.start.x.array() + 1e-3).log());
    ASSERT_GT(path.size(), 5u);
    for (std::size_t k = 1; k < path.size(); ++k) {
      EXPECT_GT(path[k].ln_strength, path[k - 1].ln_strength);
      // The misfit is not convex in g: neighbours on the path may lie in different minima, a unit of chi^2 apart.
      EXPECT_GT(path[k].chi2, path[k - 1].chi2 - 1);
      EXPECT_LT(path[k].effective, path[k - 1].effective + 0.5);
    }
    // The largest evidence lies inside the range, not at its end.
    const auto best = std::max_element(path.begin(), path.end(),
                                       [](const auto& a, const auto& b) { return a.ln_evidence < b.ln_evidence; });
    EXPECT_NE(best, path.end() - 1);
    EXPECT_NE(best, path.begin());
    const Eigen::MatrixXd covariance = density_covariance(problem, *best);
    EXPECT_GT(covariance.diagonal().minCoeff(), 0);
  }
}

}  // namespace
}  // namespace sievelight
