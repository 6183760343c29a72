// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/kernel.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>
#include <gsl/gsl_integration.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <vector>

namespace sievelight {
namespace {

struct Nodes {
  std::vector<double> at, weight;
};

// Gauss-Legendre rules on [0, 1] with weights that sum to 1, for 1 ... 64 points.
const Nodes& rule(std::size_t points) {
  static const std::vector<Nodes> all = [] {
    std::vector<Nodes> made(65);
    for (std::size_t n = 1; n < made.size(); ++n) {
      const std::unique_ptr<gsl_integration_glfixed_table, decltype(&gsl_integration_glfixed_table_free)> table(
          gsl_integration_glfixed_table_alloc(n), gsl_integration_glfixed_table_free);
      for (std::size_t k = 0; k < n; ++k) {
        double at = 0, weight = 0;
        gsl_integration_glfixed_point(0.0, 1.0, k, &at, &weight, table.get());
        made[n].at.push_back(at);
        made[n].weight.push_back(weight);
      }
    }
    return made;
  }();
  return all[std::clamp<std::size_t>(points, 1, 64)];
}

// Points for a smooth factor times cos(phase): a Gauss rule is exact to rounding once its points outnumber half the
// phase in radians by a few.
std::size_t points_for(double phase, std::size_t at_least) {
  return at_least + static_cast<std::size_t>(0.35 * std::min(phase, 200.0));
}

double normal_below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

// Where to look at q for one point of the curve, and how much each look counts.
Nodes looks(const Curve& curve, Eigen::Index i, double largest_nm) {
  const double q = curve.q_per_nm[i];
  const bool bins = curve.q_low_per_nm.size() > 0;
  const double low = bins ? curve.q_low_per_nm[i] : q, high = bins ? curve.q_high_per_nm[i] : q;
  const double blur = curve.q_resolution_per_nm.size() > 0 ? curve.q_resolution_per_nm[i] : 0.0;
  if (high <= low && blur <= 0) return {{q}, {1.0}};
  Nodes out;
  const double from = low - 5 * blur, to = high + 5 * blur;
  const Nodes& gauss = rule(points_for((to - from) * largest_nm, blur > 0 ? 14 : 4));
  double sum = 0;
  for (std::size_t k = 0; k < gauss.at.size(); ++k) {
    const double at = from + (to - from) * gauss.at[k];
    double weight = gauss.weight[k] * std::abs(at);
    // A box seen through a Gaussian: the share of the bin that reaches this q.
    if (blur > 0)
      weight *= high > low ? normal_below((at - low) / blur) - normal_below((at - high) / blur)
                           : std::exp(-0.5 * (at - q) * (at - q) / (blur * blur)) / std::max(std::abs(at), 1e-12);
    out.at.push_back(std::abs(at));
    out.weight.push_back(weight);
    sum += weight;
  }
  for (double& weight : out.weight) weight /= sum;
  return out;
}

}  // namespace

Kernel make_kernel(const Curve& curve, const SizeGrid& grid, const Shape& shape) {
  check_pinhole(curve, "sizes from this kernel");
  Kernel out{grid, shape.name, curve.q_per_nm, Eigen::MatrixXd::Zero(curve.size(), grid.size()),
             Eigen::VectorXd::Zero(curve.size())};
  const double largest_nm = grid.diameter_nm[grid.size() - 1];
  rule(1);  // built before the threads start
  parallel_for(static_cast<std::size_t>(curve.size()), [&](std::size_t row) {
    const auto i = static_cast<Eigen::Index>(row);
    const Nodes q = looks(curve, i, largest_nm);
    for (std::size_t k = 0; k < q.at.size(); ++k)
      out.power_law_nm4[i] += q.weight[k] / std::pow(std::max(q.at[k], 0.2 * curve.q_per_nm[i]), 4);
    for (Eigen::Index j = 0; j + 1 < grid.size(); ++j) {
      const Nodes& cell = rule(points_for(curve.q_per_nm[i] * grid.diameter_nm[j] * grid.step, 4));
      double left = 0, right = 0;
      for (std::size_t c = 0; c < cell.at.size(); ++c) {
        const double diameter_nm = grid.diameter_nm[j] * std::exp(cell.at[c] * grid.step);
        double seen = 0;
        for (std::size_t k = 0; k < q.at.size(); ++k) seen += q.weight[k] * shape.form_factor(q.at[k], diameter_nm);
        seen *= cell.weight[c] * grid.step * shape.volume_nm3(diameter_nm);
        left += (1 - cell.at[c]) * seen;
        right += cell.at[c] * seen;
      }
      out.volume_nm3(i, j) += left;
      out.volume_nm3(i, j + 1) += right;
    }
  });
  return out;
}

bool fits(const Kernel& kernel, const Curve& curve) { return kernel.q_per_nm == curve.q_per_nm; }

Eigen::VectorXd scattering_per_cm(const Kernel& kernel, const Eigen::VectorXd& x, double contrast_per_cm2) {
  if (x.size() != kernel.grid.size())
    throw InputError(
        fmt::format("the distribution has {} values but the kernel has {} sizes.", x.size(), kernel.grid.size()),
        "Give the volume fraction per ln D at each of the kernel's diameters.");
  const double factor = contrast_per_cm2 > 0 ? contrast_factor(contrast_per_cm2) : 1.0;
  return factor * (kernel.volume_nm3 * x);
}

}  // namespace sievelight
