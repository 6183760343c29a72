// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/summary.hpp"

#include "sievelight/base/units.hpp"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

Eigen::VectorXd whole_volume(const SizeGrid& grid) {
  Eigen::VectorXd weight = Eigen::VectorXd::Constant(grid.size(), grid.step);
  weight[0] *= 0.5;
  weight[grid.size() - 1] *= 0.5;
  return weight;
}

// Fraction t of a cell below which `volume` lies, for a density that runs linearly from a to b over a width.
double solve_cell(double a, double b, double width, double volume) {
  // a t + (b - a) t^2 / 2 = volume / width, in the form that does not cancel.
  const double c = volume / width, slope = b - a;
  const double root = std::sqrt(std::max(a * a + 2 * slope * c, 0.0));
  return a + root > 0 ? std::clamp(2 * c / (a + root), 0.0, 1.0) : 0.0;
}

}  // namespace

Summariser::Summariser(const SizeGrid& grid, double surface_per_size, double surface_per_nm)
    : grid_(grid),
      surface_per_size_(surface_per_size),
      surface_per_nm_(surface_per_nm),
      whole_(whole_volume(grid)),
      volume_(grid.window_moment(0)),
      first_(grid.window_moment(1)),
      second_(grid.window_moment(2)),
      inverse_(grid.window_moment(-1)),
      inverse2_(grid.window_moment(-2)),
      inverse3_(grid.window_moment(-3)),
      third_(grid.window_moment(3)),
      fifth_(grid.window_moment(5)) {}

double Summariser::below(const Eigen::VectorXd& cumulative, const Eigen::VectorXd& x, double diameter_nm) const {
  const double place = std::log(diameter_nm / grid_.diameter_nm[grid_.window_low]) / grid_.step;
  if (place <= 0) return 0;
  const Eigen::Index last = grid_.window_size() - 1;
  if (place >= static_cast<double>(last)) return cumulative[last];
  const auto j = static_cast<Eigen::Index>(place);
  const double t = place - static_cast<double>(j), a = x[grid_.window_low + j], b = x[grid_.window_low + j + 1];
  return cumulative[j] + grid_.step * t * (a + 0.5 * t * (b - a));
}

Eigen::VectorXd Summariser::cumulative(const Eigen::VectorXd& x) const {
  Eigen::VectorXd out(grid_.window_size());
  out[0] = 0;
  for (Eigen::Index j = 1; j < out.size(); ++j) {
    const Eigen::Index node = grid_.window_low + j;
    out[j] = out[j - 1] + 0.5 * grid_.step * (x[node - 1] + x[node]);
  }
  return out;
}

Summary Summariser::operator()(const Eigen::VectorXd& x) const {
  const Eigen::VectorXd below = cumulative(x);
  const double volume = below[below.size() - 1];
  const auto percentile = [&](double share) {
    const double wanted = share * volume;
    const auto above = std::lower_bound(below.begin() + 1, below.end() - 1, wanted);
    const Eigen::Index j = (above - below.begin()) - 1, node = grid_.window_low + j;
    const double t = solve_cell(x[node], x[node + 1], grid_.step, wanted - below[j]);
    return grid_.diameter_nm[node] * std::exp(t * grid_.step);
  };
  Summary out{};
  out.x10_nm = percentile(0.1);
  out.x50_nm = percentile(0.5);
  out.x90_nm = percentile(0.9);
  out.volume = volume;
  out.mean_nm = first_.dot(x) / volume;
  const double variance = second_.dot(x) / volume - out.mean_nm * out.mean_nm;
  out.relative_width = std::sqrt(std::max(variance, 0.0)) / out.mean_nm;
  out.surface_per_nm = surface_per_size_ * inverse_.dot(x) + surface_per_nm_ * volume;
  out.surface_mean_nm = volume / inverse_.dot(x);
  out.number_mean_nm = inverse2_.dot(x) / inverse3_.dot(x);
  out.rg_nm = std::sqrt(3.0 / 20 * fifth_.dot(x) / third_.dot(x));
  out.number_per_nm3 = 6 / pi * inverse3_.dot(x);
  out.below_2_nm = this->below(below, x, 2.0) / volume;
  out.below_50_nm = this->below(below, x, 50.0) / volume;
  const double inner = volume - below[1] - (volume - below[below.size() - 2]);
  out.edge_share = 1 - inner / whole_.dot(x);
  return out;
}

Eigen::MatrixXd smoothing_matrix(const SizeGrid& grid, double sd_ln_d) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(grid.window_size(), grid.size());
  // Integral of a hat times the Gaussian: the second difference of x Phi(x / sd) + sd phi(x / sd).
  const auto twice_integrated = [sd_ln_d](double x) {
    const double z = x / sd_ln_d;
    return x * gsl_cdf_ugaussian_P(z) + sd_ln_d * gsl_ran_ugaussian_pdf(z);
  };
  if (sd_ln_d <= 0) {
    for (Eigen::Index row = 0; row < out.rows(); ++row) out(row, grid.window_low + row) = 1;
    return out;
  }
  const auto far = static_cast<Eigen::Index>(std::ceil(5 * sd_ln_d / grid.step)) + 1;
  Eigen::VectorXd weight(far + 1);  // by the distance in nodes: the same around every node
  for (Eigen::Index k = 0; k <= far; ++k) {
    const double x = static_cast<double>(k) * grid.step;  // free of cancellation on this side
    weight[k] = twice_integrated(-x + grid.step) - 2 * twice_integrated(-x) + twice_integrated(-x - grid.step);
  }
  for (Eigen::Index row = 0; row < out.rows(); ++row) {
    const Eigen::Index at = grid.window_low + row;
    for (Eigen::Index k = at - far; k <= at + far; ++k)
      out(row, std::clamp<Eigen::Index>(k, 0, grid.size() - 1)) += weight[std::abs(k - at)];
    out.row(row) /= out.row(row).sum();
  }
  return out;
}

Eigen::MatrixXd resolution_kernel(const SizeGrid& grid, const Eigen::MatrixXd& covariance,
                                  const Eigen::MatrixXd& information, double sd_ln_d) {
  const Eigen::MatrixXd seen = smoothing_matrix(grid, sd_ln_d) * covariance.topRows(grid.size());
  return seen * information.middleCols(grid.window_low, grid.window_size());
}

Eigen::VectorXd resolution_widths(const Eigen::MatrixXd& kernel, double step) {
  Eigen::VectorXd out = Eigen::VectorXd::Constant(kernel.cols(), std::numeric_limits<double>::quiet_NaN());
  for (Eigen::Index j = 0; j < kernel.cols(); ++j) {
    Eigen::Index top = 0;
    const auto column = kernel.col(j);
    const double half = 0.5 * column.maxCoeff(&top);
    if (!(half > 0)) continue;
    Eigen::Index low = top, high = top;
    while (low > 0 && column[low] > half) --low;
    while (high + 1 < kernel.rows() && column[high] > half) ++high;
    if (column[low] > half || column[high] > half) continue;
    const double left = static_cast<double>(low) + (half - column[low]) / (column[low + 1] - column[low]);
    const double right = static_cast<double>(high) - (half - column[high]) / (column[high - 1] - column[high]);
    out[j] = (right - left) * step;
  }
  return out;
}

std::vector<std::pair<Eigen::Index, double>> modes(const Eigen::VectorXd& curve, double share, double of_itself) {
  std::vector<std::pair<Eigen::Index, double>> out;
  const Eigen::Index n = curve.size();
  if (n < 3) return out;
  const double needed = share * curve.maxCoeff();
  for (Eigen::Index j = 1; j + 1 < n; ++j) {
    const double h = curve[j];
    // A plateau counts once, at its left end. A side without higher ground has its saddle at zero.
    if (curve[j - 1] >= h || curve[j + 1] > h) continue;
    double left = h, right = h;
    for (Eigen::Index k = j - 1; k >= 0 && curve[k] <= h; --k) left = std::min(left, k > 0 ? curve[k] : 0.0);
    for (Eigen::Index k = j + 1; k < n && curve[k] <= h; ++k) right = std::min(right, k + 1 < n ? curve[k] : 0.0);
    if (h > 0 && h - std::max(left, right) >= std::max(needed, of_itself * h)) out.emplace_back(j, h);
  }
  return out;
}

}  // namespace sievelight
