// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/series.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/holm.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/curve/shared_points.hpp"
#include "sievelight/distribution/noise.hpp"
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
  if (o.start < 1 || !(o.alpha > 0 && o.alpha < 0.5))
    throw InputError(fmt::format("start = {}, alpha = {}.", o.start, o.alpha),
                     "Take one frame or more as the start, and alpha between 0 and 0.5.");
  if (static_cast<int>(curves.size()) < o.start + 1)
    throw InputError(fmt::format("a series of {} curves with a start of {}.", curves.size(), o.start),
                     "Give more frames, or a shorter start.");
  for (std::size_t k = 0; k < curves.size(); ++k)
    if (curves[k].unit != curves[0].unit)
      throw InputError(fmt::format("curve {} of the series has another unit than the first.", k),
                       "Reduce all frames in the same way.");
}

// The bins that every frame has: a spike or a crystal's reflection may cost one of them a bin.
std::vector<Curve> on_common_bins(const std::vector<Curve>& curves) {
  std::vector<int> held(static_cast<std::size_t>(curves[0].size()), 0);
  std::vector<SharedPoints> with_first;
  for (const Curve& c : curves) {
    with_first.push_back(shared_points("series", curves[0], c));
    for (const Index i : with_first.back().in_a) ++held[static_cast<std::size_t>(i)];
  }
  std::vector<Curve> out;
  for (std::size_t k = 0; k < curves.size(); ++k) {
    std::vector<Index> points;
    for (std::size_t j = 0; j < with_first[k].in_a.size(); ++j)
      if (held[static_cast<std::size_t>(with_first[k].in_a[j])] == static_cast<int>(curves.size()))
        points.push_back(with_first[k].in_b[j]);
    if (points.size() < 10)
      throw InputError(fmt::format("the frames of the series have {} bins in common.", points.size()),
                       "Reduce all frames with the same bins and much the same mask; ten are needed.");
    out.push_back(pick(curves[k], points));
  }
  return out;
}

// Mean of the first frames with what they share.
Curve mean_of(const std::vector<Curve>& curves, int count) {
  Curve sum = curves[0];
  for (int k = 1; k < count; ++k) sum = add(sum, curves[static_cast<std::size_t>(k)]);
  return count == 1 ? sum : scale(sum, {1.0 / count, {}});
}

// The relative scale r of a cause that is nothing but a scale, u = r I; nothing otherwise.
std::optional<double> scale_of(const Curve& curve, const std::string& id) {
  const auto found = curve.causes.find(id);
  if (found == curve.causes.end() || found->second.kind != CauseKind::coherent) return std::nullopt;
  const Eigen::VectorXd& u = found->second.u;
  const double r = u.dot(curve.intensity) / curve.intensity.squaredNorm();
  if ((u - r * curve.intensity).norm() > 1e-6 * u.norm()) return std::nullopt;
  return r;
}

// Coherent directions of the difference. A scale that both share cancels in their ratio: as a direction r (I - R) it
// would let any difference explain itself. A scale of one curve alone is built on the reference, which scatters less.
Eigen::MatrixXd directions(const Curve& difference, const Curve& frame, const Curve& reference) {
  std::vector<Eigen::VectorXd> kept;
  for (const auto& [id, cause] : difference.causes) {
    if (cause.kind != CauseKind::coherent || cause.u.squaredNorm() == 0) continue;
    const auto mine = scale_of(frame, id), theirs = scale_of(reference, id);
    if (mine && theirs && std::abs(*mine - *theirs) <= 1e-3 * std::abs(*theirs)) continue;
    const bool scale_alone =
        (mine && !reference.causes.count(id)) || (theirs && !frame.causes.count(id)) || (mine && theirs);
    kept.push_back(scale_alone ? Eigen::VectorXd((mine.value_or(0) - theirs.value_or(0)) * reference.intensity)
                               : cause.u);
  }
  Eigen::MatrixXd out(difference.size(), static_cast<Index>(kept.size()));
  for (std::size_t k = 0; k < kept.size(); ++k) out.col(static_cast<Index>(k)) = kept[k];
  return out;
}

}  // namespace

SeriesChange find_change(const std::vector<Curve>& given, const SeriesOptions& options) {
  check_series(given, options);
  const std::vector<Curve> curves = on_common_bins(given);
  const Curve reference = mean_of(curves, options.start);
  SeriesChange out;
  out.frames.resize(curves.size());
  std::vector<double> p_change, p_shape;
  for (std::size_t k = static_cast<std::size_t>(options.start); k < curves.size(); ++k) {
    const Curve d = subtract(curves[k], reference);
    const Eigen::VectorXd u = pointwise_u(d);
    std::vector<Index> sound;
    for (Index i = 0; i < u.size(); ++i)
      if (u[i] > 0) sound.push_back(i);
    if (sound.size() < 10)
      throw InputError(fmt::format("frame {} has {} points with an uncertainty.", k, sound.size()),
                       "A change is looked for in ten points or more.");
    const Noise noise(Eigen::VectorXd(u(sound)),
                      Eigen::MatrixXd(directions(d, curves[k], reference)(sound, Eigen::all)));
    SeriesFrame& frame = out.frames[k];
    frame.chi2 = noise.whiten(Eigen::VectorXd(d.intensity(sound))).squaredNorm();
    frame.degrees_of_freedom = static_cast<double>(sound.size());
    frame.p_change = gsl_cdf_chisq_Q(frame.chi2, frame.degrees_of_freedom);
    // I_k = c2 R + b, so d = (c2 - 1) R + b.
    Eigen::MatrixXd shapes(static_cast<Index>(sound.size()), 2);
    shapes.col(0) = reference.intensity(sound);
    shapes.col(1).setOnes();
    const Eigen::MatrixXd a = noise.whiten(shapes);
    const Eigen::VectorXd y = noise.whiten(Eigen::VectorXd(d.intensity(sound)));
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

Hysteresis hysteresis(const Eigen::VectorXd& x, const Eigen::VectorXd& y, const Eigen::MatrixXd& covariance) {
  const Index n = x.size();
  if (y.size() != n || covariance.rows() != n || covariance.cols() != n || n < 4)
    throw InputError(fmt::format("a cycle of {} points, {} values and a covariance of {} x {}.", n, y.size(),
                                 covariance.rows(), covariance.cols()),
                     "Give four points or more, one value each, and the covariance of the values.");
  Hysteresis out;
  Index top = 0;
  x.maxCoeff(&top);
  out.turning_point = static_cast<int>(top);
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
  const double area = weight.dot(y), u = std::sqrt(std::max(0.0, weight.dot(covariance * weight)));
  const double length = out.common.high - out.common.low;
  out.area = Estimate::normal(area, u);
  out.mean_difference = Estimate::normal(area / length, u / length);
  out.p_zero = u > 0 ? 2 * gsl_cdf_ugaussian_Q(std::abs(area) / u) : (area == 0 ? 1.0 : 0.0);
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
