// SPDX-License-Identifier: GPL-3.0-or-later
/// Smooth views of a noisy curve: variances that do not follow each point's chance, and a slope that is not noise.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <Eigen/Core>

namespace sievelight {

/// (n) mean over up to `half_width` neighbours on each side.
Eigen::VectorXd smooth(const Eigen::VectorXd& values, int half_width = 5);

/// (n) mean of u^2 over up to `half_width` neighbours on each side. Weights from counts themselves pull a fit down
/// (a point that is low by chance weighs more); the mean over 2 m + 1 points weakens that by this number.
Eigen::VectorXd smooth_variance(const Eigen::VectorXd& u, int half_width = 5);

/// (n) dI/dq by a weighted quadratic in ln q through up to `half_width` neighbours on each side: of I, or of ln I where
/// all of them are positive and that fits better. Weights from the smoothed point errors. With three points or fewer a
/// lower order is used; one point gives zero. Where points have uncertainties each place takes the widest window whose
/// slope agrees with those of all narrower ones, so that a narrow peak keeps its slope and a smooth tail its quiet.
/// Sources: local polynomial regression, W. S. Cleveland, J. Am. Stat. Assoc. 74 (1979) 829 (uniform weights here);
/// intersection of confidence intervals, A. Goldenshluger, A. Nemirovski, Math. Methods Statist. 6 (1997) 135.
/// Citations from memory.
Eigen::VectorXd local_slope(const Curve& curve, int half_width = 5);

}  // namespace sievelight
