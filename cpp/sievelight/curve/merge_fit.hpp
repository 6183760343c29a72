// SPDX-License-Identifier: GPL-3.0-or-later
/// The common smooth curve of two curves in their overlap, and the ratio of the two.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <optional>

namespace sievelight {

struct CommonFit {
  double log_ratio = 0.0;     // ln(high / low)
  Eigen::VectorXd influence;  // (n_low + n_high) d log_ratio / d intensity; zero where the ratio was fixed
  Eigen::VectorXd model;      // (n_low + n_high) expectation of each point
  Eigen::MatrixXd jacobian;   // (n_low + n_high, parameters) at the solution
};

/// Least squares of I(q) = exp(spline in ln q) to both curves at once with the variances given (n_low + n_high); see
/// merge.hpp. `log_ratio` fixes the ratio. `blur` folds in the curves' q resolution. NumericalError when fewer than
/// three points of a curve are positive, or when the fit does not settle.
CommonFit fit_common_curve(const Curve& low, const Curve& high, const Eigen::VectorXd& variance,
                           const std::optional<double>& log_ratio, bool blur);

}  // namespace sievelight
