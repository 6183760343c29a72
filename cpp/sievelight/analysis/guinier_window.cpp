// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/guinier_window.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace sievelight {
namespace {

// Weighted straight line y = a - b x through points added one by one; x = q^2 / 3, so b = Rg^2.
struct Line {
  double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
  void add(double weight, double x, double y) {
    w += weight, wx += weight * x, wy += weight * y, wxx += weight * x * x, wxy += weight * x * y;
  }
  double determinant() const { return w * wxx - wx * wx; }
  double b() const { return (wx * wy - w * wxy) / determinant(); }
  double a() const { return (wy + b() * wx) / w; }
  double u_b() const { return std::sqrt(w / determinant()); }
  double at(double x) const { return a() - b() * x; }
  double variance_at(double x) const { return (wxx - 2 * x * wx + x * x * w) / determinant(); }
};

struct Scan {
  Eigen::VectorXd x, y, weight;  // weight 0 where the intensity is not positive: no logarithm
  Eigen::Index first_good = 0;

  Scan(const Curve& curve, const PointWeights& weights, const GuinierOptions& options)
      : x(curve.q_per_nm.array().square() / 3.0), y(curve.size()), weight(curve.size()) {
    for (Eigen::Index i = 0; i < curve.size(); ++i) {
      const double intensity = curve.intensity[i];
      const bool positive = intensity > 0.0;
      y[i] = positive ? std::log(intensity) : 0.0;
      const double noise = positive ? weights.smooth[i] / (intensity * intensity) : 0.0;
      weight[i] = positive ? 1.0 / (noise + options.law_tolerance * options.law_tolerance) : 0.0;
    }
    // A point to start from stands out of its own noise.
    while (first_good < curve.size() && !(curve.intensity[first_good] > 3.0 * std::sqrt(weights.smooth[first_good])))
      ++first_good;
  }

  Line line(Eigen::Index first, Eigen::Index points) const {
    Line out;
    for (Eigen::Index i = first; i < first + points; ++i) out.add(weight[i], x[i], y[i]);
    return out;
  }
};

// The longest self-consistent window from `first`; 0 points when there is none.
Eigen::Index longest(const Scan& scan, Eigen::Index first, const GuinierOptions& options) {
  const double limit = options.q_rg_max * options.q_rg_max / 3.0;  // x Rg^2 at the end
  Line line;
  Eigen::Index best = 0;
  for (Eigen::Index i = first; i < scan.x.size(); ++i) {
    line.add(scan.weight[i], scan.x[i], scan.y[i]);
    const Eigen::Index points = i - first + 1;
    if (points < options.min_points || !(line.determinant() > 0.0)) continue;
    if (scan.x[i] * line.b() <= limit) best = points;
    if (scan.x[i] * (line.b() - 3.0 * line.u_b()) > limit) break;
  }
  return best;
}

// True when the points left out below `first` fall into a valley and rise again to the law: the window then sits on a
// ripple of large objects, not at their flat start. An upturn only falls, a shadow only rises.
bool beyond_a_valley(const Scan& scan, Eigen::Index first, const Line& law, double drop_beyond) {
  Eigen::Index highest = scan.first_good;
  const auto sd = [&](Eigen::Index i) { return 1.0 / std::sqrt(scan.weight[i]); };
  for (Eigen::Index i = scan.first_good; i < first; ++i) {
    if (scan.weight[i] == 0.0) continue;
    if (scan.y[i] > scan.y[highest]) highest = i;
    const double fallen = scan.y[highest] - scan.y[i], below_law = law.at(scan.x[i]) - scan.y[i];
    if (fallen > drop_beyond * std::hypot(sd(i), sd(highest)) && below_law > drop_beyond * sd(i)) return true;
  }
  return false;
}

// Why a start fails; empty when it passes (a).
std::string reason_against(const Scan& scan, Eigen::Index first, Eigen::Index points, const Curve& curve,
                           const GuinierOptions& options) {
  if (points < options.min_points) {
    const Line few = scan.line(first, std::min<Eigen::Index>(options.min_points, scan.x.size() - first));
    return fmt::format(
        "the {} points from q = {:.4g} 1/nm already reach q Rg = {:.2f}", options.min_points, curve.q_per_nm[first],
        std::sqrt(std::max(0.0, few.b()) * 3.0 * scan.x[std::min(first + options.min_points, scan.x.size()) - 1]));
  }
  const Line whole = scan.line(first, points);
  const Line lower = scan.line(first, std::max<Eigen::Index>(options.min_points, points / 2));
  if (whole.b() <= 0.0 || lower.b() + 3.0 * lower.u_b() < 0.0)
    return fmt::format("the intensity does not fall with q from {:.4g} 1/nm on", curve.q_per_nm[first]);
  if (beyond_a_valley(scan, first, whole, options.drop_beyond)) return "the first points lie on ripples";
  return {};
}

bool lowest_point_agrees(const Scan& scan, Eigen::Index first, Eigen::Index points, const GuinierOptions& options) {
  const Line others = scan.line(first + 1, points - 1);
  const double off = scan.y[first] - others.at(scan.x[first]);
  const double variance = 1.0 / scan.weight[first] + others.variance_at(scan.x[first]);
  return off * off <= options.drop_beyond * options.drop_beyond * variance;
}

bool chi_square_passes(const Scan& scan, Eigen::Index first, Eigen::Index points) {
  const Line line = scan.line(first, points);
  double chi2 = 0.0;
  Eigen::Index used = 0;
  for (Eigen::Index i = first; i < first + points; ++i) {
    if (scan.weight[i] == 0.0) continue;
    chi2 += scan.weight[i] * std::pow(scan.y[i] - line.at(scan.x[i]), 2);
    ++used;
  }
  return used <= 2 || gsl_cdf_chisq_Q(chi2, static_cast<double>(used - 2)) > 1e-3;
}

GuinierWindow given_window(const Curve& curve, const GuinierOptions& options) {
  const Range range = *options.q_range_per_nm;
  GuinierWindow out;
  for (Eigen::Index i = 0; i < curve.size(); ++i) {
    if (!range.contains(curve.q_per_nm[i])) continue;
    if (out.points == 0) out.first = i;
    ++out.points;
  }
  if (out.points < options.min_points)
    throw InputError(fmt::format("{} points lie between q = {:.4g} and {:.4g} 1/nm; a Guinier fit needs {}.",
                                 out.points, range.low, range.high, options.min_points),
                     fmt::format("The curve has {} points from {:.4g} to {:.4g} 1/nm; widen the range.", curve.size(),
                                 curve.q_per_nm[0], curve.q_per_nm[curve.size() - 1]));
  return out;
}

}  // namespace

GuinierWindow find_guinier_window(const Curve& curve, const PointWeights& weights, const GuinierOptions& options) {
  if (!(options.q_rg_max > 0.0) || !(options.drop_up_to >= 1.0) || options.min_points < 3 ||
      !(options.law_tolerance > 0.0))
    throw InputError(fmt::format("q_rg_max = {}, min_points = {}, law_tolerance = {}, drop_up_to = {} make no window.",
                                 options.q_rg_max, options.min_points, options.law_tolerance, options.drop_up_to),
                     "Give q_rg_max > 0 (1.3 as a rule), at least 3 points, a tolerance > 0 and a factor >= 1.");
  if (curve.size() < options.min_points)
    throw InputError(fmt::format("the curve has {} points; a Guinier fit needs {}.", curve.size(), options.min_points),
                     "Reduce the frames onto more q bins.");
  if (options.q_range_per_nm) return given_window(curve, options);

  const Scan scan(curve, weights, options);
  const Eigen::Index last_start = curve.size() - options.min_points;
  GuinierWindow fallback{0, 0, 0, false};
  std::string reason = "no point at the low end stands out of its noise";
  for (Eigen::Index first = scan.first_good; first <= last_start; ++first) {
    if (curve.q_per_nm[first] > options.drop_up_to * curve.q_per_nm[scan.first_good]) break;
    if (scan.weight[first] == 0.0) continue;
    const Eigen::Index points = longest(scan, first, options);
    const std::string against = reason_against(scan, first, points, curve, options);
    if (first == scan.first_good && !against.empty()) reason = against;
    if (!against.empty() || !lowest_point_agrees(scan, first, points, options)) continue;
    if (chi_square_passes(scan, first, points)) return {first, points, first, true};
    if (fallback.points == 0) fallback = {first, points, first, false};
  }
  if (fallback.points > 0) return fallback;
  throw NumericalError(fmt::format("no Guinier range up to q Rg = {}: {}.", options.q_rg_max, reason),
                       "Objects too large for the lowest q, a correlation peak or beamstop scatter hide it; measure at "
                       "lower q, mask the "
                       "beamstop, or give q_range_per_nm where you know that the law holds.");
}

}  // namespace sievelight
