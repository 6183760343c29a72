// SPDX-License-Identifier: GPL-3.0-or-later
/// Weights of a curve's points for least squares, and what to do when a curve has no uncertainty of its own.
/// The variance of a bin comes from the same counts as its intensity; used raw as 1/variance it favours the bins that
/// happened to count low and pulls every fit down by about 1/N. The weights here come from a line through the
/// logarithms of seven neighbouring variances, which follows any smooth trend and hardly knows the point's own
/// fluctuation.
/// Source: the bias is the textbook one of 1/N weights (equations of the project, "A bin's intensity"); the remedy is
/// ours and measured in the test of this file.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <Eigen/Core>

namespace sievelight {

struct PointWeights {
  Eigen::VectorXd variance;  // (n) for the propagation of errors: the curve's own pointwise variance
  Eigen::VectorXd smooth;    // (n) for weights: the same, smoothed over neighbours
  bool known = true;         // false: the curve has no pointwise uncertainty, and both are a guess from
                             // each point's distance to its neighbours; fits say so and take its size from residuals
};

/// Raises InputError when some points of the curve have an uncertainty and others have none.
PointWeights point_weights(const Curve& curve);

/// Variance of a point from the residuals (m) of a fit, in units of a guessed variance: their mean square per degree of
/// freedom, times (1 + r) / (1 - r) where neighbours go together (r their correlation, if positive), because ripples
/// and bends that a law does not follow average out far more slowly than noise does. Source: effective sample size of a
/// first-order autoregressive series (textbook; from memory).
double scatter_of_residuals(const Eigen::ArrayXd& residual_over_guess, int degrees_of_freedom);

}  // namespace sievelight
