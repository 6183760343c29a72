// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/smoothness.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

Eigen::MatrixXd difference_matrix(Eigen::Index nodes, int order) {
  if (order < 1 || order > 3 || nodes <= order)
    throw InputError(fmt::format("no difference of order {} over {} sizes.", order, nodes),
                     "Use order 1, 2 or 3 and a size window of at least 10 cells.");
  Eigen::MatrixXd d = Eigen::MatrixXd::Identity(nodes, nodes);
  for (int k = 0; k < order; ++k) d = (d.bottomRows(d.rows() - 1) - d.topRows(d.rows() - 1)).eval();
  return d;
}

Range ln_strength_range(double step, int order) {
  const double shift = (1 - 2 * order) * std::log(step / (std::log(10.0) / 60));
  const double ln10 = std::log(10.0);
  return order == 2 ? Range{-2 * ln10 + shift, 4 * ln10 + shift} : Range{shift, 8 * ln10 + shift};
}

}  // namespace sievelight
