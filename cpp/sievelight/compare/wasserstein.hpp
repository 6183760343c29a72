// SPDX-License-Identifier: GPL-3.0-or-later
/// Wasserstein distance of order one between distributions on a line: W1 = integral |F - G| dx, in the unit of x. For
/// one shape shifted by m it is |m|; it sees every change of shape too. On an axis of diameters, not of their
/// logarithm. Source: S. S. Vallender, Theory Probab. Appl. 18 (1974) 784 (from memory); checked against SciPy and
/// closed forms.
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// Of cumulatives (m) given at rising x (m), linear in between; the integral is exact for these, crossings included.
double wasserstein(const Eigen::VectorXd& x, const Eigen::VectorXd& f, const Eigen::VectorXd& g);

/// Of weighted points: positions and weights (not negative, not all zero) of each. InputError otherwise.
double wasserstein(const Eigen::VectorXd& a, const Eigen::VectorXd& weight_a, const Eigen::VectorXd& b,
                   const Eigen::VectorXd& weight_b);

}  // namespace sievelight
