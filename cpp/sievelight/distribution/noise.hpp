// SPDX-License-Identifier: GPL-3.0-or-later
/// The covariance of a curve, as a diagonal and a few coherent directions, and what an inversion does with it.
/// Sigma = diag(u^2) + S S^T. A flat background of either sign with a normal prior N(0, scale^2) is one more coherent
/// direction (scale in every point), so it is marginalised exactly.
///
/// Coherent causes that scale with the intensity must not be built from the noisy data: a low point would claim a
/// small common error, count more, and pull the fit down (R. W. Peelle's puzzle; G. D'Agostini 1994, Nucl. Instrum.
/// Methods A 346, 306, from memory). smooth_coherent() rebuilds them on a fitted curve.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <string>
#include <vector>

namespace sievelight {

/// Coherent causes of one curve: ids and (n, k) directions, one column an id.
struct CoherentCauses {
  std::vector<std::string> ids;
  Eigen::MatrixXd u;
};

/// The curve's coherent causes as they are.
CoherentCauses coherent_causes(const Curve& curve);

/// The same, each replaced by r(q) F + a(q) + t(q) q dF/dq with F the fitted curve and r, a, t cubic in ln q, where
/// this describes the cause to within the noise that it could have inherited from the data; else left as it is.
CoherentCauses smooth_coherent(const Curve& curve, const Eigen::VectorXd& fitted);

/// Sigma with its inverse and a square root of its inverse, in O(n k) per column.
class Noise {
 public:
  /// @param u (n) pointwise standard uncertainty, all > 0; @param shared (n, k) coherent directions.
  Noise(Eigen::VectorXd u, Eigen::MatrixXd shared);
  const Eigen::VectorXd& u() const { return u_; }
  const Eigen::MatrixXd& shared() const { return shared_; }
  /// W B with W^T W = Sigma^-1.
  Eigen::MatrixXd whiten(const Eigen::MatrixXd& b) const;
  /// W^T B.
  Eigen::MatrixXd whiten_back(const Eigen::MatrixXd& b) const;
  /// (k) posterior mean of the coherent amplitudes (in their standard deviations) given a residual.
  Eigen::VectorXd amplitudes(const Eigen::VectorXd& residual) const;
  /// (k, k) lower Cholesky factor of their posterior covariance, the same for every residual.
  const Eigen::MatrixXd& amplitude_root() const { return amplitude_root_; }

 private:
  Eigen::VectorXd u_, shrink_;
  Eigen::MatrixXd shared_, directions_, amplitude_root_, to_amplitudes_;
};

}  // namespace sievelight
