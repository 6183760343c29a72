// SPDX-License-Identifier: GPL-3.0-or-later
/// Gauss-Legendre rules on [0, 1] whose weights sum to 1.
#pragma once

#include <cstddef>
#include <vector>

namespace sievelight {

struct GaussRule {
  std::vector<double> at, weight;
};

/// The rule of 1 to 64 points (more or fewer are cut to these). Made on the first call: call once before threads start.
const GaussRule& gauss_rule(std::size_t points);

}  // namespace sievelight
