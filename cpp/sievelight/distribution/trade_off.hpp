// SPDX-License-Identifier: GPL-3.0-or-later
/// What every strength of the smoothness penalty would cost and bring: the picture behind the choice of one.
/// Misfit against roughness (P. C. Hansen 1992, SIAM Rev. 34, 561, from memory), with the evidence and the
/// cross-validation of each, and where the three rules would stop. The sampled method chooses none: it draws them.
#pragma once

#include "sievelight/distribution/invert.hpp"

namespace sievelight {

struct TradeOff {
  Eigen::VectorXd ln_strength;       // (s) weak to stiff, in units of the data's own curvature
  Eigen::VectorXd chi2_per_point;    // (s)
  Eigen::VectorXd roughness;         // (s) |D_2 x|^2, relative unit
  Eigen::VectorXd effective;         // (s) effective number of parameters
  Eigen::VectorXd ln_evidence;       // (s) less its largest value
  Eigen::VectorXd cross_validation;  // (s) over its least value
  Eigen::VectorXd diameter_nm;       // (m)
  Eigen::MatrixXd density;           // (m, s) volume per ln D of each fit, largest value of each is 1
  Eigen::Index by_evidence = 0, by_cross_validation = 0, at_corner = 0;
};

/// Non-negative fits at four strengths a decade. InputError and NumericalError as of invert().
TradeOff trade_off(const Curve& curve, const InvertOptions& options = {});

}  // namespace sievelight
