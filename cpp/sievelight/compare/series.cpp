// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/series.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/holm.hpp"
#include "sievelight/compare/frame_difference.hpp"
#include "sievelight/reduce/water.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

void check_series(const std::vector<Curve>& curves, const SeriesOptions& o) {
  if (o.start < 1 || !(o.alpha > 0 && o.alpha < 0.5) || (o.bands != 0 && o.bands < 5))
    throw InputError(fmt::format("start = {}, alpha = {}, bands = {}.", o.start, o.alpha, o.bands),
                     "Take one frame or more as the start, alpha between 0 and 0.5, and 5 bands or more (0: none).");
  if (static_cast<int>(curves.size()) < o.start + 1)
    throw InputError(fmt::format("a series of {} curves with a start of {}.", curves.size(), o.start),
                     "Give more frames, or a shorter start.");
  for (std::size_t k = 0; k < curves.size(); ++k)
    if (curves[k].unit != curves[0].unit)
      throw InputError(fmt::format("curve {} of the series has another unit than the first.", k),
                       "Reduce all frames in the same way.");
}

}  // namespace

SeriesChange find_change(const std::vector<Curve>& given, const SeriesOptions& options) {
  check_series(given, options);
  const std::vector<Curve> curves = on_common_bins(given);
  const Curve reference = start_of_series(curves, options.start);
  const BandMeans bands(curves, options.bands);
  SeriesChange out;
  out.frames.resize(curves.size());
  std::vector<double> p_change, p_shape;
  for (std::size_t k = static_cast<std::size_t>(options.start); k < curves.size(); ++k) {
    const FrameDifference difference = frame_difference(curves[k], reference, bands);
    const Eigen::VectorXd y = difference.noise.whiten(difference.d);
    SeriesFrame& frame = out.frames[k];
    frame.chi2 = y.squaredNorm();
    frame.degrees_of_freedom = static_cast<double>(y.size());
    frame.p_change = gsl_cdf_chisq_Q(frame.chi2, frame.degrees_of_freedom);
    // I_k = c2 R + b, so d = (c2 - 1) R + b.
    Eigen::MatrixXd shapes(y.size(), 2);
    shapes.col(0) = difference.reference;
    shapes.col(1).setOnes();
    const Eigen::MatrixXd a = difference.noise.whiten(shapes);
    const Eigen::LDLT<Eigen::MatrixXd> normal(a.transpose() * a);
    const Eigen::VectorXd fit = normal.solve(a.transpose() * y);
    const Eigen::MatrixXd covariance = normal.solve(Eigen::MatrixXd::Identity(2, 2));
    frame.contrast_ratio = Estimate::normal(1 + fit[0], std::sqrt(std::max(0.0, covariance(0, 0))));
    frame.p_shape = gsl_cdf_chisq_Q((y - a * fit).squaredNorm(), frame.degrees_of_freedom - 2);
    p_change.push_back(frame.p_change);
    p_shape.push_back(frame.p_shape);
  }
  const HolmResult change = holm(p_change, options.alpha), shape = holm(p_shape, options.alpha);
  for (std::size_t e = 0; e < p_change.size(); ++e) {
    SeriesFrame& frame = out.frames[e + static_cast<std::size_t>(options.start)];
    frame.changed = change.claimed[e];
    frame.another_shape = frame.changed && shape.claimed[e];
    if (frame.changed && !out.first) out.first = static_cast<int>(e) + options.start;
  }
  out.words = !out.first
                  ? fmt::format("no frame differs from the start (any false claim: {:g} %)", 100 * options.alpha)
                  : fmt::format(
                        "frame {} is the first that differs from the start (p = {:.1g}; any false claim: "
                        "{:g} %); {}",
                        *out.first, out.frames[static_cast<std::size_t>(*out.first)].p_change, 100 * options.alpha,
                        out.frames[static_cast<std::size_t>(*out.first)].another_shape
                            ? "its shape differs"
                            : "it is the start's curve scaled, within its errors");
  return out;
}

namespace {

// Runs of neighbours that stand within a distance of the run's first: repeats, or a dwell. Index of each run's first
// point, and the end.
std::vector<Index> runs(const Eigen::VectorXd& x, double same_within) {
  std::vector<Index> out{0};
  for (Index i = 1; i < x.size(); ++i)
    if (std::abs(x[i] - x[out.back()]) > same_within) out.push_back(i);
  out.push_back(x.size());
  return out;
}

// (runs, n) that takes the mean of every run.
Eigen::MatrixXd means_of(const std::vector<Index>& run, Index n) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(static_cast<Index>(run.size()) - 1, n);
  for (std::size_t r = 0; r + 1 < run.size(); ++r)
    out.row(static_cast<Index>(r))
        .segment(run[r], run[r + 1] - run[r])
        .setConstant(1.0 / static_cast<double>(run[r + 1] - run[r]));
  return out;
}

}  // namespace

Hysteresis hysteresis(const Eigen::VectorXd& all_x, const Eigen::VectorXd& y, const Eigen::MatrixXd& covariance,
                      double same_within) {
  const Index count = all_x.size();
  if (y.size() != count || covariance.rows() != count || covariance.cols() != count || count < 4)
    throw InputError(fmt::format("a cycle of {} points, {} values and a covariance of {} x {}.", count, y.size(),
                                 covariance.rows(), covariance.cols()),
                     "Give four points or more, one value each, and the covariance of the values.");
  if (!(same_within >= 0))
    throw InputError(fmt::format("same_within is {}.", same_within), "Give zero or a small distance.");
  const std::vector<Index> run = runs(all_x, same_within);
  const Eigen::MatrixXd mean = means_of(run, count);
  const Eigen::VectorXd x = mean * all_x;
  const Index n = x.size();
  Hysteresis out;
  Index top = 0;
  x.maxCoeff(&top);
  out.turning_point = static_cast<int>(run[static_cast<std::size_t>(top) + 1]) - 1;
  bool sound = top > 0 && top + 1 < n;
  for (Index i = 0; i + 1 < n; ++i) sound = sound && (i < top ? x[i + 1] > x[i] : x[i + 1] < x[i]);
  if (!sound)
    throw InputError("the variable does not rise to one maximum and fall after it.",
                     "Give one cycle at a time, in the order of measurement.");
  out.common = {std::max(x[0], x[n - 1]), x[top]};
  if (!(out.common.high > out.common.low))
    throw InputError("the two branches share no range.", "Measure both branches over the same values.");
  // Weights of a branch's integral: knots are its own points inside the range and the range's ends.
  Eigen::VectorXd weight = Eigen::VectorXd::Zero(n);
  const auto integrate = [&](Index first, Index last, double sign) {
    for (Index i = first; i < last; ++i) {
      const Index a = x[i] < x[i + 1] ? i : i + 1, b = a == i ? i + 1 : i;  // a is the lower end
      const double low = std::max(x[a], out.common.low), high = std::min(x[b], out.common.high);
      if (!(high > low)) continue;
      const double middle = (0.5 * (low + high) - x[a]) / (x[b] - x[a]);
      weight[a] += sign * (high - low) * (1 - middle);
      weight[b] += sign * (high - low) * middle;
    }
  };
  integrate(0, top, -1.0);
  integrate(top, n - 1, 1.0);
  const Eigen::VectorXd of_each = mean.transpose() * weight;
  const double area = of_each.dot(y), u = std::sqrt(std::max(0.0, of_each.dot(covariance * of_each)));
  const double length = out.common.high - out.common.low;
  out.area = Estimate::normal(area, u);
  out.mean_difference = Estimate::normal(area / length, u / length);
  out.p_zero = u > 0 ? 2 * gsl_cdf_ugaussian_Q(std::abs(area) / u) : (area == 0 ? 1.0 : 0.0);
  return out;
}

std::vector<std::pair<int, int>> cycles(const Eigen::VectorXd& all_x, double same_within) {
  std::vector<std::pair<int, int>> out;
  if (all_x.size() < 3) return out;
  const std::vector<Index> run = runs(all_x, same_within);
  const Eigen::VectorXd x = means_of(run, all_x.size()) * all_x;
  Index bottom = 0, top = -1;  // of the cycle under way
  const auto close = [&](Index last) {
    if (top > bottom && last > top)
      out.emplace_back(static_cast<int>(run[static_cast<std::size_t>(bottom)]),
                       static_cast<int>(run[static_cast<std::size_t>(last) + 1]) - 1);
    bottom = last;
    top = -1;
  };
  for (Index i = 1; i < x.size(); ++i) {
    if (x[i] > x[i - 1]) {
      if (i > 1 && x[i - 1] < x[i - 2]) close(i - 1);
      top = i;
    } else if (top < 0) {
      bottom = i;
    }
  }
  close(x.size() - 1);
  return out;
}

double kelvin_radius_nm(double relative_humidity_percent, double temperature_C) {
  if (!(relative_humidity_percent > 0 && relative_humidity_percent < 100))
    throw InputError(fmt::format("the relative humidity is {} %.", relative_humidity_percent),
                     "A meniscus needs one between 0 and 100 %.");
  constexpr double gas_constant = 8.31446261815324, molar_mass = 18.01528e-3;  // J/(mol K) (SI 2019), kg/mol
  const double kelvin = temperature_C + 273.15, tau = 1 - kelvin / 647.096;
  const double volume = molar_mass / (1000 * water_density_g_per_cm3(temperature_C));
  const double tension = 0.2358 * std::pow(tau, 1.256) * (1 - 0.625 * tau);
  return -2e9 * tension * volume / (gas_constant * kelvin * std::log(relative_humidity_percent / 100));
}

}  // namespace sievelight
