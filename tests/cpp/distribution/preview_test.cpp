// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/preview.hpp"

#include "sievelight/base/units.hpp"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gtest/gtest.h>
#include <Eigen/Dense>

#include <cmath>
#include <memory>
#include <numbers>
#include <numeric>
#include <random>
#include <vector>

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

// The ridge example of the GSL Reference Manual 2.7, chapter "Linear Least-Squares Fitting", "Regularized Linear
// Regression Example 1" (printed output from memory): 1000 points of y = u + v where v differs from u by 0.001, from
// the library's default generator. Plain least squares gives -43.6588 u + 45.6636 v; the ridge at lambda = 4.51103
// gives 1.00113 u + 1.0032 v with residual norm 31.6547, both positive and so also the non-negative minimum.
TEST(Preview, RidgeExampleOfTheGslManual) {
  const std::unique_ptr<gsl_rng, void (*)(gsl_rng*)> r(gsl_rng_alloc(gsl_rng_mt19937), &gsl_rng_free);
  const Eigen::Index n = 1000;
  Eigen::MatrixXd x(n, 2);
  Eigen::VectorXd y(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    x(i, 0) = 5 * gsl_ran_gaussian(r.get(), 1);
    x(i, 1) = x(i, 0) + gsl_ran_gaussian(r.get(), 0.001);
    y[i] = x(i, 0) + x(i, 1) + gsl_ran_gaussian(r.get(), 1);
  }
  const Eigen::Vector2d plain = x.colPivHouseholderQr().solve(y);
  ASSERT_NEAR(plain[0], -43.6588, 1e-4) << "these are not the manual's points";
  ASSERT_NEAR(plain[1], 45.6636, 1e-4);
  const double lambda = 4.51103;
  const Eigen::MatrixXd h = x.transpose() * x + lambda * lambda * Eigen::Matrix2d::Identity();
  const Eigen::VectorXd found = solve_non_negative(h, x.transpose() * y);
  // Half a unit of the last printed digit.
  EXPECT_NEAR(found[0], 1.00113, 5e-6);
  EXPECT_NEAR(found[1], 1.0032, 5e-5);
  EXPECT_NEAR((y - x * found).norm(), 31.6547, 5e-5);
  EXPECT_NEAR(found.norm(), 1.41728, 5e-6);
  // Without the penalty the best non-negative answer leaves u out, because its best coefficient is negative.
  const Eigen::VectorXd bound = solve_non_negative(x.transpose() * x, x.transpose() * y);
  EXPECT_EQ(bound[0], 0.0);
  EXPECT_NEAR(bound[1], x.col(1).dot(y) / x.col(1).squaredNorm(), 1e-9);
}

// A set to start from changes the work, not the answer.
TEST(Preview, TheStartDoesNotChangeTheMinimum) {
  Eigen::MatrixXd m = Eigen::MatrixXd::Zero(30, 20);
  for (Eigen::Index i = 0; i < 30; ++i)
    for (Eigen::Index j = 0; j < 20; ++j) m(i, j) = std::exp(-0.05 * std::pow(double(i) - 1.5 * double(j), 2));
  Eigen::VectorXd y(30);
  for (Eigen::Index i = 0; i < 30; ++i) y[i] = std::sin(0.4 * double(i)) + 0.2;
  const Eigen::MatrixXd h = m.transpose() * m + 1e-3 * Eigen::MatrixXd::Identity(20, 20);
  const Eigen::VectorXd b = m.transpose() * y, from_nothing = solve_non_negative(h, b);
  ASSERT_GT((from_nothing.array() == 0).count(), 2);
  std::vector<Eigen::Index> all(20);
  std::iota(all.begin(), all.end(), 0);
  for (const auto& start : {all, std::vector<Eigen::Index>{3, 4, 11}})
    EXPECT_LT((solve_non_negative(h, b, start) - from_nothing).norm(), 1e-9 * from_nothing.norm());
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
