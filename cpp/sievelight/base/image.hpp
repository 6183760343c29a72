// SPDX-License-Identifier: GPL-3.0-or-later
/// Two-dimensional pixel arrays, indexed (row, column) = (y, x), row-major like the files they come from.
#pragma once

#include <Eigen/Core>

namespace sievelight {

using Image = Eigen::Array<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
/// true = the pixel must not be used.
using Mask = Eigen::Array<bool, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

}  // namespace sievelight
