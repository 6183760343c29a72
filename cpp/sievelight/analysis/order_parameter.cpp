// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/order_parameter.hpp"

#include "sievelight/base/units.hpp"

#include <algorithm>
#include <cmath>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

namespace {

// Folds an angle from the director onto 0 to 90 degrees.
double fold(double degrees) {
  const double half_turn = degrees - 180.0 * std::floor(degrees / 180.0);
  return half_turn <= 90.0 ? half_turn : 180.0 - half_turn;
}

// Bin that begins where bin i ends (step +1) or ends where it begins (-1), or -1.
Index neighbour(const AzimuthalProfile& p, Index i, Index step) {
  const Index n = p.intensity.size(), j = (i + step + n) % n;
  const double gap = step > 0 ? p.low_deg[j] - p.high_deg[i] : p.low_deg[i] - p.high_deg[j];
  return n > 2 && std::abs(std::remainder(gap, 360.0)) < 1e-6 ? j : -1;
}

}  // namespace

std::optional<OrderParameter> order_parameter(const AzimuthalProfile& p, double director_deg) {
  const Index n = p.intensity.size();
  const double widest = (p.high_deg - p.low_deg).maxCoeff();
  const Index cells = std::lround(90.0 / std::max(widest / 10.0, std::min(widest, 0.5)));
  const double width = 90.0 / static_cast<double>(cells);
  VectorXd all = VectorXd::Zero(cells);
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(cells, n);  // of normalisation times intensity, as factors of I
  for (Index i = 0; i < n; ++i) {
    const double bin = p.high_deg[i] - p.low_deg[i], density = p.normalisation[i] / bin;
    const Index before = neighbour(p, i, -1), after = neighbour(p, i, +1);
    // Cut where cells of the fold end; they are symmetric, so cuts at whole cells from the director serve both ways.
    double from = p.low_deg[i] - director_deg;
    const double start = from, stop = p.high_deg[i] - director_deg;
    while (from < stop - 1e-9) {
      const double next = std::min(stop, width * (std::floor(from / width + 1e-9) + 1.0));
      const Index c = std::min<Index>(static_cast<Index>(fold(0.5 * (from + next)) / width), cells - 1);
      const double share = density * (next - from);
      all[c] += share;
      sum(c, i) += share;
      if (before >= 0 && after >= 0) {
        // The parabola whose means over the three bins are theirs.
        const double t = (0.5 * (from + next) - start) / bin - 0.5, bend = 0.5 * (t * t - 1.0 / 12.0);
        sum(c, before) += share * (bend - 0.5 * t);
        sum(c, after) += share * (bend + 0.5 * t);
        sum(c, i) -= share * 2 * bend;
      }
      from = next;
    }
  }
  if (!(all.minCoeff() > 0)) return std::nullopt;
  VectorXd top = VectorXd::Zero(n), bottom = top;
  for (Index c = 0; c < cells; ++c) {
    const double a = std::cos(radians(width * static_cast<double>(c))),
                 b = std::cos(radians(width * static_cast<double>(c + 1)));
    // With x = cos phi: integral of sin phi = a - b; of P2 sin phi = [(x^3 - x)/2] from b to a.
    top += sum.row(c).transpose() / all[c] * 0.5 * ((a * a * a - a) - (b * b * b - b));
    bottom += sum.row(c).transpose() / all[c] * (a - b);
  }
  const double weight = bottom.dot(p.intensity);
  if (!(weight > 0)) return std::nullopt;
  const double value = top.dot(p.intensity) / weight;
  return OrderParameter{value, (top - value * bottom) / weight};
}

}  // namespace sievelight
