// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/wasserstein.hpp"

#include "sievelight/base/error.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace sievelight {

double wasserstein(const Eigen::VectorXd& x, const Eigen::VectorXd& f, const Eigen::VectorXd& g) {
  if (x.size() < 2 || f.size() != x.size() || g.size() != x.size())
    throw InputError("cumulatives and their positions differ in length, or there are fewer than two.",
                     "Give both distributions on the same sizes.");
  double sum = 0;
  for (Eigen::Index i = 0; i + 1 < x.size(); ++i) {
    const double a = f[i] - g[i], b = f[i + 1] - g[i + 1], step = x[i + 1] - x[i];
    // A line that changes sign makes two triangles.
    sum += a * b >= 0 ? 0.5 * step * std::abs(a + b) : 0.5 * step * (a * a + b * b) / std::abs(a - b);
  }
  return sum;
}

double wasserstein(const Eigen::VectorXd& a, const Eigen::VectorXd& weight_a, const Eigen::VectorXd& b,
                   const Eigen::VectorXd& weight_b) {
  const auto check = [](const Eigen::VectorXd& at, const Eigen::VectorXd& weight) {
    if (at.size() == 0 || at.size() != weight.size() || !at.allFinite() || !(weight.minCoeff() >= 0) ||
        !(weight.sum() > 0))
      throw InputError("points and weights differ in number, or the weights are negative or all zero.",
                       "Give every point one weight.");
  };
  check(a, weight_a);
  check(b, weight_b);
  std::vector<std::pair<double, double>> steps;  // position, change of F - G
  for (Eigen::Index i = 0; i < a.size(); ++i) steps.emplace_back(a[i], weight_a[i] / weight_a.sum());
  for (Eigen::Index i = 0; i < b.size(); ++i) steps.emplace_back(b[i], -weight_b[i] / weight_b.sum());
  std::sort(steps.begin(), steps.end());
  double sum = 0, apart = 0;
  for (std::size_t i = 0; i + 1 < steps.size(); ++i) {
    apart += steps[i].second;
    sum += std::abs(apart) * (steps[i + 1].first - steps[i].first);
  }
  return sum;
}

}  // namespace sievelight
