// SPDX-License-Identifier: GPL-3.0-or-later
/// One or several neighbouring peaks on a smooth background, fitted together by weighted least squares.
///   I(q) = b(q) (c_0 + c_1 t + ... ) + sum_k h_k p((q - q_k) / w_k),   t in [-1, 1] over ln q,
/// b is exp of a parabola in ln q through the points beside the peaks, which follows a power law and its bend (or 1
/// where the intensity is not positive there); the polynomial mends what b gets wrong. A background that is a power law
/// times a slow bend is the assumption; `oscillation.hpp` asks whether ripples of a form factor explain the same
/// points. The Jacobian at the minimum gives the influence of every point, (X^T W X)^-1 X^T W (Gauss-Newton). Source:
/// Levenberg-Marquardt with a trust region as in the GNU Scientific Library's nonlinear least squares.
#pragma once

#include "sievelight/analysis/peak_profile.hpp"

#include <Eigen/Core>
#include <vector>

namespace sievelight {

struct PeakStart {
  double q_per_nm = 0.0, fwhm_per_nm = 0.0, height = 0.0;
};

struct PeakGroup {
  PeakProfile profile = PeakProfile::gaussian;
  double eta = 0.0;              // share of the Lorentzian, common to the group
  std::vector<PeakStart> peaks;  // as fitted
  Eigen::VectorXd background;    // (m)
  Eigen::VectorXd fit;           // (m) background and peaks
  /// (3 k, m) d (q_k, ln w_k, h_k) / d I, three rows a peak.
  Eigen::MatrixXd influence;
  double chi2 = 0.0;
  int degrees_of_freedom = 0;
  bool settled = false;  // false: no minimum with positive, separate peaks of a sensible width
};

/// q, intensity and variance: (m) points. `profile` automatic takes the one of lowest BIC = chi2 + k ln m.
PeakGroup fit_peak_group(const Eigen::ArrayXd& q_per_nm, const Eigen::ArrayXd& intensity,
                         const Eigen::ArrayXd& variance, const std::vector<PeakStart>& starts, PeakProfile profile);

/// (m) exp of a parabola (a line where few points are left) in ln q, through the points with `use`; 1 where these are
/// not all positive within their noise.
Eigen::ArrayXd smooth_shape(const Eigen::ArrayXd& q_per_nm, const Eigen::ArrayXd& intensity,
                            const Eigen::ArrayXd& variance, const Eigen::Array<bool, Eigen::Dynamic, 1>& use);

}  // namespace sievelight
