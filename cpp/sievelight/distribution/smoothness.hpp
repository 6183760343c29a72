// SPDX-License-Identifier: GPL-3.0-or-later
/// The prior: how strongly ln(density) resists bending.
/// Order 2 penalises curvature (zero for a power law), order 3 its change (zero for a log-normal). Neither is right for
/// every sample, so the default pools both. The strength is never fixed: ln(strength) is uniform over a wide range.
/// p(g) ~ strength^((m - order)/2) exp(-strength/2 |D_order g|^2), g = ln density at m nodes.
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>

namespace sievelight {

/// (m - order, m) difference matrix; order 1, 2 or 3.
Eigen::MatrixXd difference_matrix(Eigen::Index nodes, int order);

/// Range of ln(strength) for a node spacing in ln D. Strengths scale as step^(1 - 2 order) for one and the same
/// function; the range is 1e-2 ... 1e4 (order 2) and 1 ... 1e8 (order 3) at 60 nodes a decade, where the simulations
/// behind the default were made.
Range ln_strength_range(double step, int order);

}  // namespace sievelight
