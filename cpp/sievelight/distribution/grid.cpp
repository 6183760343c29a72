// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/grid.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

// Integrals over t in [0, 1] of (1 - t) e^(a t) and of t e^(a t): one cell's share of a moment on its left and right
// node. Series where the closed form cancels.
struct CellMoment {
  double left, right;
};

CellMoment cell_moment(double a) {
  if (std::abs(a) < 1e-2) {
    const double right = 0.5 + a / 3 + a * a / 8 + a * a * a / 30 + a * a * a * a / 144;
    const double all = 1 + a / 2 + a * a / 6 + a * a * a / 24 + a * a * a * a / 120;
    return {all - right, right};
  }
  const double e = std::exp(a);
  const double right = (e * (a - 1) + 1) / (a * a);
  return {(e - 1) / a - right, right};
}

}  // namespace

Eigen::VectorXd SizeGrid::window_moment(double power) const {
  Eigen::VectorXd weight = Eigen::VectorXd::Zero(size());
  const CellMoment share = cell_moment(power * step);
  for (Eigen::Index j = window_low; j < window_high; ++j) {
    const double scale = step * std::pow(diameter_nm[j], power);
    weight[j] += scale * share.left;
    weight[j + 1] += scale * share.right;
  }
  return weight;
}

Range supported_diameters_nm(double q_min_per_nm, double q_max_per_nm) {
  const Range out{3 * pi / q_max_per_nm, pi / q_min_per_nm};
  if (!(q_min_per_nm > 0) || !(out.high > 1.2 * out.low))
    throw InputError(fmt::format("data from q = {:.4g} to {:.4g} 1/nm support sizes from {:.4g} to {:.4g} nm only.",
                                 q_min_per_nm, q_max_per_nm, out.low, out.high),
                     "A size distribution needs a wider q range: q_max at least 3.6 times q_min, better 20 times.");
  return out;
}

SizeGrid make_grid(double q_min_per_nm, double q_max_per_nm, const std::optional<Range>& window_nm,
                   const GridOptions& options) {
  const Range supported = supported_diameters_nm(q_min_per_nm, q_max_per_nm);
  const Range window = window_nm.value_or(supported);
  if (!(window.low > 0) || !(window.high > 1.2 * window.low) || !std::isfinite(window.high))
    throw InputError(fmt::format("the size window is {} to {} nm.", window.low, window.high),
                     fmt::format("Give a lower and an upper diameter, the upper at least 1.2 times the lower; the data "
                                 "support {:.3g} to {:.3g} nm.",
                                 supported.low, supported.high));
  const double low = std::min(window.low, supported.low) / options.reach_low;
  const double high = std::max(window.high, supported.high) * options.reach_high;
  // The window holds a whole number of cells.
  const double wanted = std::max(std::log(10.0) / options.cells_per_decade, std::log(high / low) / options.most_cells);
  const double width = std::log(window.high / window.low);
  const auto inside = static_cast<Eigen::Index>(std::ceil(width / wanted - 1e-9));
  SizeGrid grid;
  grid.step = width / static_cast<double>(inside);
  grid.window_low = static_cast<Eigen::Index>(std::ceil(std::log(window.low / low) / grid.step));
  grid.window_high = grid.window_low + inside;
  const auto above = static_cast<Eigen::Index>(std::ceil(std::log(high / window.high) / grid.step));
  grid.diameter_nm.resize(grid.window_high + above + 1);
  for (Eigen::Index j = 0; j < grid.size(); ++j)
    grid.diameter_nm[j] = window.low * std::exp(grid.step * static_cast<double>(j - grid.window_low));
  grid.diameter_nm[grid.window_high] = window.high;
  return grid;
}

}  // namespace sievelight
