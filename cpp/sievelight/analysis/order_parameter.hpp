// SPDX-License-Identifier: GPL-3.0-or-later
/// Hermans' order parameter of a profile about a director: see anisotropy.hpp.
#pragma once

#include "sievelight/reduce/azimuth.hpp"

#include <Eigen/Core>
#include <optional>

namespace sievelight {

/// S2 = top . I / bottom . I; `influence` is dS2/dI.
struct OrderParameter {
  double value = 0.0;
  Eigen::VectorXd influence;  // (n)
};

/// The bins are folded onto 0 to 90 degrees from the director (inversion, and the mirror of a fibre), each with its
/// normalisation as weight. Inside a bin the intensity follows the parabola through the means of it and its neighbours
/// (flat beside a gap); the fold has cells of a tenth of a bin. Absent when a cell stays empty or the intensity is not
/// positive.
std::optional<OrderParameter> order_parameter(const AzimuthalProfile& profile, double director_deg);

}  // namespace sievelight
