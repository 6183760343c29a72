// SPDX-License-Identifier: GPL-3.0-or-later
/// Which points of two curves stand on the same bin: there a shared pointwise cause is the same number in both.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <string>
#include <vector>

namespace sievelight {

struct SharedPoints {
  std::vector<Eigen::Index> in_a, in_b;  // equally long; rising
};

/// Points with equal bin edges (1e-9 relative: rounding of a file's digits); the mean q inside may differ, where masks
/// do, and a bin may be missing from either curve. Without edges: all points, where q is the same.
/// InputError, naming the cause `id`, when bins overlap without being the same: then nobody knows what is shared.
SharedPoints shared_points(const std::string& id, const Curve& a, const Curve& b);

}  // namespace sievelight
