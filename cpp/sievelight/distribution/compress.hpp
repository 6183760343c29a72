// SPDX-License-Identifier: GPL-3.0-or-later
/// A curve and its kernel, whitened and reduced to the few numbers that the data carry.
/// |W (I - A x)|^2 = |y - M x|^2 + rest with 30 to 60 rows instead of one a point, because the kernel smooths.
#pragma once

#include "sievelight/distribution/kernel.hpp"
#include "sievelight/distribution/noise.hpp"

namespace sievelight {

struct Compressed {
  Eigen::MatrixXd m;     // (r, p) rows of the whitened kernel; p = sizes, plus one column for K q^-4 when it is fitted
  Eigen::VectorXd y;     // (r)
  double rest = 0.0;     // chi^2 outside these rows, the same for every x
  Eigen::MatrixXd back;  // (n, r) orthonormal: back^T W I = y
};

/// @param columns (n, p) curves per unit of each unknown, all >= 0. Directions that no distribution which stays under
/// the data could lift above `tolerance` standard deviations are dropped.
Compressed compress(const Noise& noise, const Eigen::VectorXd& intensity, const Eigen::MatrixXd& columns,
                    double tolerance = 1e-3);

}  // namespace sievelight
