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
  /// Relative standard uncertainty of the scale of the whole curve, from the causes that are nothing but a scale; these
  /// are then not among the directions.
  double relative_scale = 0.0;
};

/// The curve's coherent causes as they are.
CoherentCauses coherent_causes(const Curve& curve);

/// The same, rebuilt on a fitted curve F. A cause that is r F with a number r, to within the noise that it could have
/// inherited from the data, goes into `relative_scale`: y = (1 + s) model, so the scale is drawn after the fit. As a
/// direction r F beside the model it would let the fitted curve stand in for the model: each effective parameter of the
/// density then pulls the volume down by r^2 (7 % at r = 0.1, measured). The others become F, q dF/dq, a flat part and
/// slow changes of these along ln q; a cause that none of them describe is left as it is.
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
  /// ln det Sigma.
  double ln_determinant() const { return ln_determinant_; }

 private:
  double ln_determinant_ = 0.0;
  Eigen::VectorXd u_, shrink_;
  Eigen::MatrixXd shared_, directions_, amplitude_root_, to_amplitudes_;
};

}  // namespace sievelight
