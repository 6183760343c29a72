// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/preview.hpp"

#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>
#include <Eigen/Dense>

#include <numbers>
#include <random>

namespace sievelight {
namespace {

// The conditions of Karush, Kuhn and Tucker say when a non-negative minimum is one: slope 0 where x > 0, >= 0
// elsewhere.
TEST(Preview, NonNegativeMinimaSatisfyKarushKuhnTucker) {
  std::mt19937_64 random(2);
  std::normal_distribution<double> normal;
  for (int trial = 0; trial < 20; ++trial) {
    const Eigen::MatrixXd a = Eigen::MatrixXd::NullaryExpr(40, 25, [&] { return normal(random); });
    const Eigen::VectorXd y = Eigen::VectorXd::NullaryExpr(40, [&] { return normal(random); });
    const Eigen::MatrixXd h = a.transpose() * a;
    const Eigen::VectorXd b = a.transpose() * y, x = solve_non_negative(h, b), slope = h * x - b;
    EXPECT_GE(x.minCoeff(), 0);
    EXPECT_GT(x.maxCoeff(), 0);
    EXPECT_GE(slope.minCoeff(), -1e-7);
    EXPECT_NEAR(slope.cwiseProduct(x).cwiseAbs().maxCoeff(), 0, 1e-8);
  }
}

// Nearly singular: neighbours as alike as two sizes 0.1 % apart, where swapping all wrong unknowns at once cycles.
TEST(Preview, NonNegativeMinimaAreFoundForSmoothingKernels) {
  const int n = 120;
  const Eigen::MatrixXd a = Eigen::MatrixXd::NullaryExpr(80, n, [](Eigen::Index i, Eigen::Index j) {
    const double d = static_cast<double>(i) / 80 - static_cast<double>(j) / 120;
    return std::exp(-50 * d * d);
  });
  Eigen::VectorXd truth = Eigen::VectorXd::Zero(n);
  truth[30] = truth[31] = truth[80] = 1;
  const Eigen::MatrixXd h = a.transpose() * a + 1e-9 * Eigen::MatrixXd::Identity(n, n);
  const Eigen::VectorXd b = a.transpose() * a * truth, x = solve_non_negative(h, b), slope = h * x - b;
  EXPECT_GE(x.minCoeff(), 0);
  EXPECT_GE(slope.minCoeff(), -1e-6 * b.maxCoeff());
  EXPECT_LT((a * (x - truth)).norm(), 1e-3 * (a * truth).norm());
}

// Source: D. L. Phillips 1962, J. ACM 9, 84: kernel phi(s - t), phi(x) = 1 + cos(pi x / 3) on |x| < 3, f = phi,
// right-hand side in closed form. f >= 0, so a non-negative solver should find it: here with noise of 0.5 % of the
// largest value.
TEST(Preview, SolvesTheIntegralEquationOfPhillips) {
  constexpr double pi = std::numbers::pi;
  const int n = 80;
  const double step = 12.0 / n, noise = 0.045;
  const auto phi = [](double x) { return std::abs(x) < 3 ? 1 + std::cos(pi * x / 3) : 0.0; };
  const auto g = [](double s) {
    const double a = std::abs(s);
    return a < 6 ? (6 - a) * (1 + 0.5 * std::cos(pi * s / 3)) + 9 / (2 * pi) * std::sin(pi * a / 3) : 0.0;
  };
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  Compressed data;
  data.m.resize(n, n);
  data.y.resize(n);
  Eigen::VectorXd truth(n);
  for (int i = 0; i < n; ++i) {
    const double s = -6 + (i + 0.5) * step;
    truth[i] = phi(s);
    data.y[i] = g(s) / noise + normal(random);
    for (int j = 0; j < n; ++j) data.m(i, j) = step * phi(s - (-6 + (j + 0.5) * step)) / noise;
  }
  const Preview found = preview(data, n);
  EXPECT_LT((found.x - truth).norm() / truth.norm(), 0.03);
  EXPECT_NEAR(found.chi2 / (n - found.effective), 1.0, 4 * std::sqrt(2.0 / n));
  EXPECT_LT(found.effective, 20);
}

// Source: C. B. Shaw 1972, J. Math. Anal. Appl. 37, 83, as in P. C. Hansen 1994, Numer. Algorithms 6, 1 (test problem
// "shaw", n = 32: largest singular values 2.99332815, 1.85679889, 1.03412342; |f| 5.646736023, |A f| 13.187357630).
TEST(Preview, SolvesHansensShaw) {
  const Eigen::Index n = 32;
  const double h = pi / static_cast<double>(n);
  Eigen::MatrixXd a(n, n);
  Eigen::VectorXd f(n);
  const auto at = [&](Eigen::Index k) { return -pi / 2 + (static_cast<double>(k) + 0.5) * h; };
  for (Eigen::Index i = 0; i < n; ++i) {
    const double t = at(i);
    f[i] = 2 * std::exp(-6 * (t - 0.8) * (t - 0.8)) + std::exp(-2 * (t + 0.5) * (t + 0.5));
    for (Eigen::Index j = 0; j < n; ++j) {
      const double s = at(j), u = pi * (std::sin(s) + std::sin(t));
      const double sinc = std::abs(u) < 1e-12 ? 1.0 : std::sin(u) / u;
      a(i, j) = h * std::pow(std::cos(s) + std::cos(t), 2) * sinc * sinc;
    }
  }
  const Eigen::VectorXd singular = a.jacobiSvd().singularValues();
  EXPECT_NEAR(singular[0], 2.99332815, 1e-7);
  EXPECT_NEAR(singular[2], 1.03412342, 1e-7);
  EXPECT_NEAR(f.norm(), 5.646736023, 1e-8);
  EXPECT_NEAR((a * f).norm(), 13.187357630, 1e-8);
  // Noise of 1e-3 of the data: Tikhonov with a good strength is some 5 % off in Hansen's experiments (common practice).
  const double sigma = 1e-3 * (a * f).norm() / std::sqrt(static_cast<double>(n));
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  Eigen::VectorXd g = a * f;
  for (double& value : g) value += sigma * normal(random);
  const Compressed data{a / sigma, g / sigma, 0.0, Eigen::MatrixXd::Identity(n, n)};
  for (const StrengthRule rule : {StrengthRule::evidence, StrengthRule::cross_validation, StrengthRule::l_curve}) {
    const Preview found = preview(data, n, rule);
    EXPECT_LT((found.x - f).norm() / f.norm(), 0.1) << static_cast<int>(rule);
    EXPECT_LT(found.chi2, 2.5 * static_cast<double>(n)) << static_cast<int>(rule);
  }
}

// Source: M. L. Baart 1982, IMA J. Numer. Anal. 2, 241: K = exp(s cos t), g = 2 sinh(s)/s, f = sin t, s in [0, pi/2], t
// in [0, pi]. Severely ill-posed, three to four usable singular values: at a noise of 1e-3 some 10 to 20 % of f is out
// of reach of any linear method (P. C. Hansen 1994, Numer. Algorithms 6, 1, from memory).
TEST(Preview, SolvesBaart) {
  const Eigen::Index n = 40;
  const double dt = pi / static_cast<double>(n), ds = pi / 2 / static_cast<double>(n);
  Eigen::MatrixXd a(n, n);
  Eigen::VectorXd f(n), g(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double s = (static_cast<double>(i) + 0.5) * ds;
    g[i] = 2 * std::sinh(s) / s;
    for (Eigen::Index j = 0; j < n; ++j) {
      const double t = (static_cast<double>(j) + 0.5) * dt;
      f[j] = std::sin(t);
      a(i, j) = dt * std::exp(s * std::cos(t));
    }
  }
  EXPECT_NEAR(2 * std::sinh(0.3) / 0.3, 2.0301352896, 1e-10);
  EXPECT_NEAR(2 * std::sinh(1.5) / 1.5, 2.8390392735, 1e-10);
  EXPECT_LT((a * f - g).norm() / g.norm(), 1e-3);  // the midpoint rule
  const double sigma = 1e-3 * g.norm() / std::sqrt(static_cast<double>(n));
  std::mt19937_64 random(9);
  std::normal_distribution<double> normal;
  for (double& value : g) value += sigma * normal(random);
  const Compressed data{a / sigma, g / sigma, 0.0, Eigen::MatrixXd::Identity(n, n)};
  const Preview found = preview(data, n);
  EXPECT_LT((found.x - f).norm() / f.norm(), 0.2);
  EXPECT_LT(found.effective, 6);
  EXPECT_GE(found.x.minCoeff(), 0);
}

}  // namespace
}  // namespace sievelight
