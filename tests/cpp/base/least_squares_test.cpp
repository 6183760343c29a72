// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/least_squares.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

Eigen::VectorXd vector(std::initializer_list<double> values) {
  Eigen::VectorXd v(static_cast<Eigen::Index>(values.size()));
  std::copy(values.begin(), values.end(), v.data());
  return v;
}

// Standard deviations of the certified values: sqrt of (J^T J)^-1 times the residual variance.
Eigen::VectorXd deviations(const LeastSquaresFit& fit) {
  const double variance = fit.chi2 / static_cast<double>(fit.jacobian.rows() - fit.jacobian.cols());
  return (variance * fit.covariance().diagonal()).cwiseSqrt();
}

void expect_digits(const Eigen::VectorXd& found, const Eigen::VectorXd& certified, double relative) {
  for (Eigen::Index k = 0; k < certified.size(); ++k)
    EXPECT_NEAR(found[k], certified[k], relative * std::abs(certified[k])) << k;
}

// Source: NIST/ITL Statistical Reference Datasets, Misra1a (lower difficulty): y = b1 (1 - exp(-b2 x)), both starts.
TEST(LeastSquares, Misra1aOfNist) {
  const Eigen::VectorXd x =
      vector({77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0});
  const Eigen::VectorXd y =
      vector({10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78});
  const auto residual = [&](const Eigen::VectorXd& b) {
    return Eigen::VectorXd(b[0] * (1 - (-b[1] * x.array()).exp()) - y.array());
  };
  for (const auto& start : {vector({500, 1e-4}), vector({250, 5e-4})}) {
    const LeastSquaresFit fit = minimise_squares(residual, start);
    EXPECT_TRUE(fit.converged);
    expect_digits(fit.parameters, vector({2.3894212918e+02, 5.5015643181e-04}), 1e-7);
    expect_digits(deviations(fit), vector({2.7070075241e+00, 7.2668688436e-06}), 1e-6);
    EXPECT_NEAR(fit.chi2, 1.2455138894e-01, 1e-10);
  }
}

// Source: the same, Lanczos3: a sum of three exponentials, of all the sets the closest to a size distribution. The data
// are f(x) = 0.0951 e^-x + 0.8607 e^-3x + 1.5576 e^-5x at x = 0, 0.05, ... 1.15, printed with four digits after the
// point, which the certified sum of squares confirms (C. Lanczos, Applied Analysis, Prentice Hall 1956, p. 272-280, as
// NIST states). Start 1 of NIST.
TEST(LeastSquares, Lanczos3OfNist) {
  Eigen::VectorXd x(24), y(24);
  for (Eigen::Index i = 0; i < 24; ++i) {
    x[i] = 0.05 * static_cast<double>(i);
    const double exact = 0.0951 * std::exp(-x[i]) + 0.8607 * std::exp(-3 * x[i]) + 1.5576 * std::exp(-5 * x[i]);
    y[i] = std::round(exact * 1e4) / 1e4;
  }
  EXPECT_EQ(y[0], 2.5134);
  const auto residual = [&](const Eigen::VectorXd& b) {
    const Eigen::ArrayXd t = x.array();
    return Eigen::VectorXd(b[0] * (-b[1] * t).exp() + b[2] * (-b[3] * t).exp() + b[4] * (-b[5] * t).exp() - y.array());
  };
  const LeastSquaresFit fit =
      minimise_squares(residual, vector({1.2, 0.3, 5.6, 5.5, 6.5, 7.6}), {.most_steps = 5000, .tolerance = 1e-12});
  expect_digits(fit.parameters,
                vector({8.6816414977e-02, 9.5498101505e-01, 8.4400777463e-01, 2.9515951832e+00, 1.5825685901e+00,
                        4.9863565084e+00}),
                1e-5);
  EXPECT_NEAR(fit.chi2, 1.6117193594e-08, 1e-13);
  expect_digits(deviations(fit),
                vector({1.7197908859e-02, 9.7041624475e-02, 4.1488663282e-02, 1.0766312506e-01, 5.8371576281e-02,
                        3.4436403035e-02}),
                1e-4);
}

// With the derivatives given the same minimum is found, and the Jacobian that comes back is theirs.
TEST(LeastSquares, TakesAKnownJacobian) {
  const Eigen::VectorXd x = Eigen::VectorXd::LinSpaced(20, 0, 3), y = 2.5 * (-0.7 * x.array()).exp();
  const auto residual = [&](const Eigen::VectorXd& b) {
    return Eigen::VectorXd(b[0] * (-b[1] * x.array()).exp() - y.array());
  };
  LeastSquaresOptions options;
  options.jacobian = [&](const Eigen::VectorXd& b) {
    Eigen::MatrixXd j(20, 2);
    j.col(0) = (-b[1] * x.array()).exp();
    j.col(1) = -b[0] * x.array() * (-b[1] * x.array()).exp();
    return j;
  };
  const LeastSquaresFit fit = minimise_squares(residual, vector({1, 1}), options);
  expect_digits(fit.parameters, vector({2.5, 0.7}), 1e-8);
  EXPECT_LT((fit.jacobian - options.jacobian(fit.parameters)).cwiseAbs().maxCoeff(), 1e-8);
}

TEST(LeastSquares, RefusesMoreNumbersThanPoints) {
  const auto residual = [](const Eigen::VectorXd& p) { return Eigen::VectorXd(p.head(1)); };
  EXPECT_THROW(minimise_squares(residual, vector({1, 2})), InputError);
  const auto broken = [](const Eigen::VectorXd& p) { return Eigen::VectorXd(p / 0.0); };
  EXPECT_THROW(minimise_squares(broken, vector({1, 2})), NumericalError);
}

TEST(LeastSquares, SaysWhenTheJacobianHasLostARank) {
  const auto residual = [](const Eigen::VectorXd& p) {
    return Eigen::VectorXd(Eigen::VectorXd::LinSpaced(5, 1, 2) * (p[0] + p[1] - 3));
  };
  EXPECT_TRUE(minimise_squares(residual, vector({1, 1})).covariance().hasNaN());
}

}  // namespace
}  // namespace sievelight
