// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/porod.hpp"

#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

// 1 nm^-4 = 1e28 cm^-4.
constexpr double per_cm4 = 1e28;

// Weighted least squares of I on 1, z^2 (and z^3), z = (q_first / q)^2 in (0, 1].
struct TailFit {
  Eigen::VectorXd coefficient;
  Eigen::MatrixXd influence;  // (columns, m) d coefficient / d I
  Eigen::MatrixXd inverse;    // of the normal matrix
  Eigen::ArrayXd residual;
};

TailFit fit_tail(const Eigen::ArrayXd& q, const Eigen::VectorXd& intensity, const Eigen::ArrayXd& variance,
                 int columns) {
  const Eigen::ArrayXd z = (q[0] / q).square();
  Eigen::MatrixXd a(q.size(), columns);
  a.col(0).setOnes();
  a.col(1) = z.square();
  if (columns == 3) a.col(2) = z.cube();
  const Eigen::VectorXd root = variance.sqrt().inverse();
  const Eigen::MatrixXd scaled = root.asDiagonal() * a;
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(scaled);
  TailFit out;
  out.coefficient = qr.solve(root.cwiseProduct(intensity));
  out.inverse = (scaled.transpose() * scaled).inverse();
  out.influence = out.inverse * scaled.transpose() * root.asDiagonal();
  out.residual = (intensity - a * out.coefficient).array();
  return out;
}

struct Verdict {
  double probability = 0.0;
  double next_term_z = 0.0;
  bool holds() const { return probability > 0.01 && std::abs(next_term_z) < 2.0; }
  bool clearly_fails() const { return probability < 1e-3 || std::abs(next_term_z) > 3.0; }
};

// The two tests, with the law's own tolerance of the surface term added to the points' variance.
Verdict judge(const Curve& curve, const PointWeights& weights, double tolerance, Eigen::Index first, Eigen::Index m) {
  const Eigen::VectorXd intensity = curve.intensity.segment(first, m);
  const Eigen::ArrayXd q = curve.q_per_nm.segment(first, m), noise = weights.smooth.segment(first, m);
  const TailFit trial = fit_tail(q, intensity, noise, 2);
  const Eigen::ArrayXd variance = noise + (tolerance * trial.coefficient[1] * (q[0] / q).pow(4)).square();
  const TailFit two = fit_tail(q, intensity, variance, 2), three = fit_tail(q, intensity, variance, 3);
  return {gsl_cdf_chisq_Q((two.residual.square() / variance).sum(), static_cast<double>(m - 2)),
          three.coefficient[2] / std::sqrt(three.inverse(2, 2))};
}

// A parabola through log(variance) against log(q): weights that know nothing of ripples in the intensity, which
// 1/variance would resolve, to favour their valleys.
Eigen::ArrayXd without_ripples(const Eigen::ArrayXd& q, const Eigen::ArrayXd& variance) {
  const Eigen::ArrayXd x = q.log() - q.log().mean();
  Eigen::MatrixXd columns(q.size(), 3);
  columns << Eigen::VectorXd::Ones(q.size()), x.matrix(), x.square().matrix();
  const Eigen::VectorXd log_variance = variance.log();
  return (columns * columns.colPivHouseholderQr().solve(log_variance)).array().exp();
}

struct Window {
  Eigen::Index first = 0, points = 0;
  bool law_holds = true;
};

Window given_window(const Curve& curve, Range range) {
  Window out;
  for (Eigen::Index i = 0; i < curve.size(); ++i) {
    if (!range.contains(curve.q_per_nm[i])) continue;
    if (out.points == 0) out.first = i;
    ++out.points;
  }
  if (out.points < 5)
    throw InputError(fmt::format("{} points lie between q = {:.4g} and {:.4g} 1/nm; a Porod fit needs 5.", out.points,
                                 range.low, range.high),
                     fmt::format("The curve has {} points from {:.4g} to {:.4g} 1/nm; widen the range.", curve.size(),
                                 curve.q_per_nm[0], curve.q_per_nm[curve.size() - 1]));
  return out;
}

Window automatic_window(const Curve& curve, const PointWeights& weights, const PorodOptions& options) {
  const Eigen::Index n = curve.size();
  const double q_max = curve.q_per_nm[n - 1];
  Window out{n, 0, false};
  int failures = 0;
  for (Eigen::Index first = n - options.min_points; first >= 0; --first) {
    if (q_max / curve.q_per_nm[first] < options.least_ratio) continue;
    const Verdict verdict = judge(curve, weights, options.law_tolerance, first, n - first);
    if (verdict.holds()) out = {first, n - first, true};
    // Below a clear failure (three in a row, so no freak of one point) a pass is chance, or a mere tangent of slope -4
    // further in. Windows of less than a factor two in q fail by chance too easily to end the search.
    const bool judged = verdict.clearly_fails() && q_max > 2.0 * curve.q_per_nm[first];
    failures = judged ? failures + 1 : 0;
    if (failures == 3) break;
  }
  if (out.law_holds) return out;
  Eigen::Index first = 0;
  while (first < n - options.min_points && 2.0 * curve.q_per_nm[first] < q_max) ++first;
  return {first, n - first, false};
}

void warn(PorodFit& fit, bool known) {
  auto& out = fit.warnings;
  if (!known) out.push_back("The curve has no uncertainty of its own: the errors come from the scatter about the law.");
  if (!fit.law_holds)
    out.push_back(
        fmt::format("q^4 (I - B) is not flat between q = {:.4g} and {:.4g} 1/nm: the plateau is not reached "
                    "or oscillates, and K is no surface there. Measure to higher q, or give q_range_per_nm.",
                    fit.q_range_per_nm.low, fit.q_range_per_nm.high));
  if (const double ratio = fit.q_range_per_nm.high / fit.q_range_per_nm.low; ratio < 2.0)
    out.push_back(
        fmt::format("The window spans a factor of only {:.2f} in q: a flat background and other slopes can pass "
                    "for Porod's law there.",
                    ratio));
  if (!(fit.constant.value > 0.0))
    out.push_back("K is not positive: the tail holds no surface above the flat background.");
  else if (fit.constant.u > 0.5 * fit.constant.value)
    out.push_back(fmt::format("K is uncertain by {:.0f} %: too uncertain for a surface. Count longer at high q.",
                              100.0 * fit.constant.u / fit.constant.value));
}

}  // namespace

PorodFit fit_porod(const Curve& curve, const PorodOptions& options) {
  check_pinhole(curve, "a Porod constant");
  if (options.min_points < 5 || !(options.least_ratio > 1.0) || !(options.law_tolerance > 0.0))
    throw InputError(fmt::format("min_points = {}, least_ratio = {}, law_tolerance = {} make no window.",
                                 options.min_points, options.least_ratio, options.law_tolerance),
                     "Give at least 5 points, a ratio above 1 and a tolerance above 0.");
  if (curve.size() < options.min_points)
    throw InputError(fmt::format("the curve has {} points; a Porod fit needs {}.", curve.size(), options.min_points),
                     "Reduce the frames onto more q bins.");
  const PointWeights weights = point_weights(curve);
  Window window =
      options.q_range_per_nm ? given_window(curve, *options.q_range_per_nm) : automatic_window(curve, weights, options);
  PorodFit fit;
  const Eigen::Index n = curve.size(), m = window.points;
  const Eigen::ArrayXd q = curve.q_per_nm.segment(window.first, m);
  const Eigen::VectorXd intensity = curve.intensity.segment(window.first, m);
  // An automatic window is as wide as the two-term law passes, so a next term just below notice is there as a rule;
  // left out, it would bias K by several of its u (measured: the 95 % interval then covers 10 %, with it 90 to 95 %).
  fit.next_term_fitted = window.law_holds && !options.q_range_per_nm;
  const Eigen::ArrayXd smooth = weights.smooth.segment(window.first, m);
  const TailFit tail =
      fit.next_term_fitted ? fit_tail(q, intensity, smooth, 3) : fit_tail(q, intensity, without_ripples(q, smooth), 2);
  fit.degrees_of_freedom = static_cast<int>(m - tail.coefficient.size());

  Eigen::VectorXd guess;  // stays empty where the curve brings its own
  if (!weights.known) {
    // The guess gives the shape, the scatter about the law the size; a floor for exact synthetic laws.
    guess =
        weights.variance * std::max(1e-20, scatter_of_residuals(tail.residual / smooth.sqrt(), fit.degrees_of_freedom));
  }
  const auto result = [&](Eigen::Index column, double factor, double law) {
    Eigen::VectorXd influence = Eigen::VectorXd::Zero(n);
    influence.segment(window.first, m) = factor * tail.influence.row(column);
    const double value = factor * tail.coefficient[column];
    return estimate_from(curve, value, influence, {{"Porod's law", law * value}}, guess);
  };
  const double q2 = q[0] * q[0];
  fit.background = result(0, 1.0, 0.0);
  fit.constant = result(1, q2 * q2, options.law_tolerance);
  if (fit.next_term_fitted)
    fit.next_term = result(2, q2 * q2 * q2, 0.0);
  else
    fit.next_term = estimate_from(curve, 0.0, Eigen::VectorXd::Zero(n));
  if (curve.unit != IntensityUnit::relative) fit.constant_per_cm5 = scaled(fit.constant, per_cm4);
  fit.unit = curve.unit;
  fit.first = window.first;
  fit.points = m;
  fit.q_range_per_nm = {q[0], q[m - 1]};
  const double nan = std::numeric_limits<double>::quiet_NaN();
  fit.chi2 = weights.known ? (tail.residual.square() / weights.variance.segment(window.first, m).array()).sum() : nan;
  fit.chi2_probability = weights.known ? gsl_cdf_chisq_Q(fit.chi2, fit.degrees_of_freedom) : nan;
  const Verdict verdict = judge(curve, weights, options.law_tolerance, window.first, m);
  fit.next_term_z = verdict.next_term_z;
  fit.law_holds = window.law_holds && verdict.holds();
  warn(fit, weights.known);
  return fit;
}

Eigen::VectorXd porod_intensity(const PorodFit& fit, const Eigen::VectorXd& q_per_nm) {
  return fit.constant.value * q_per_nm.array().pow(-4) + fit.next_term.value * q_per_nm.array().pow(-6) +
         fit.background.value;
}

}  // namespace sievelight
