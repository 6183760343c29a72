// SPDX-License-Identifier: GPL-3.0-or-later
/// Nonlinear least squares: the parameters of least |r(p)|^2, by Levenberg and Marquardt in a trust region (GSL).
/// Checked on reference sets of NIST (StRD) in its test.
#pragma once

#include <Eigen/Core>
#include <functional>

namespace sievelight {

struct LeastSquaresOptions {
  int most_steps = 100;
  double tolerance = 1e-9;        // relative change of the parameters, and of the gradient
  double difference_step = 1e-5;  // relative, of the central differences for the Jacobian
  /// (k) -> (n, k) d residual / d parameter, where it is known; central differences otherwise.
  std::function<Eigen::MatrixXd(const Eigen::VectorXd&)> jacobian = {};
};

struct LeastSquaresFit {
  Eigen::VectorXd parameters;  // (k)
  Eigen::MatrixXd jacobian;    // (n, k) d residual / d parameter there
  double chi2 = 0.0;           // |r|^2
  bool converged = false;
  /// (k, k) (J^T J)^-1: the covariance of the parameters where residuals are in standard deviations. NaN when the
  /// Jacobian has lost a rank.
  Eigen::MatrixXd covariance() const;
};

/// @param residual (k) -> (n), n >= k. InputError when n < k; NumericalError where the residual is not finite.
LeastSquaresFit minimise_squares(const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& residual,
                                 const Eigen::VectorXd& start, const LeastSquaresOptions& options = {});

}  // namespace sievelight
