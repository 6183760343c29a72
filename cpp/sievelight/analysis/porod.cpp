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

struct Verdict {
  double probability = 0.0;
  double next_term_z = 0.0;
  bool holds() const { return probability > 0.01 && std::abs(next_term_z) < 2.0; }
  bool clearly_fails() const { return probability < 1e-3 || std::abs(next_term_z) > 3.0; }
};

// Points' variance with the law's own tolerance of the surface term.
Eigen::ArrayXd tolerant(const Eigen::ArrayXd& q, const Eigen::VectorXd& intensity, const Eigen::ArrayXd& noise,
                        const TailLaw& law, double tolerance) {
  const TailFit trial = fit_tail(q, intensity, noise, law);
  return noise + (tolerance * trial.coefficient[1] * q.pow(-4)).square();
}

// The two tests.
Verdict judge(const Curve& curve, const PointWeights& weights, double tolerance, TailLaw law, Eigen::Index first,
              Eigen::Index m) {
  const Eigen::VectorXd intensity = curve.intensity.segment(first, m);
  const Eigen::ArrayXd q = curve.q_per_nm.segment(first, m), noise = weights.smooth.segment(first, m);
  law.next_term = false;
  const Eigen::ArrayXd variance = tolerant(q, intensity, noise, law, tolerance);
  const TailFit without = fit_tail(q, intensity, variance, law);
  law.next_term = true;
  const TailFit with = fit_tail(q, intensity, variance, law);
  const auto freedom = static_cast<double>(m - without.coefficient.size());
  return {gsl_cdf_chisq_Q((without.residual.square() / variance).sum(), freedom),
          with.coefficient[2] / std::sqrt(with.inverse(2, 2))};
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

Window given_window(const Curve& curve, Range range, int needed) {
  Window out;
  for (Eigen::Index i = 0; i < curve.size(); ++i) {
    if (!range.contains(curve.q_per_nm[i])) continue;
    if (out.points == 0) out.first = i;
    ++out.points;
  }
  if (out.points < needed)
    throw InputError(fmt::format("{} points lie between q = {:.4g} and {:.4g} 1/nm; a Porod fit needs {}.", out.points,
                                 range.low, range.high, needed),
                     fmt::format("The curve has {} points from {:.4g} to {:.4g} 1/nm; widen the range.", curve.size(),
                                 curve.q_per_nm[0], curve.q_per_nm[curve.size() - 1]));
  return out;
}

Window automatic_window(const Curve& curve, const PointWeights& weights, const PorodOptions& options,
                        const TailLaw& law) {
  const Eigen::Index n = curve.size();
  const double q_max = curve.q_per_nm[n - 1];
  Window out{n, 0, false};
  int failures = 0;
  for (Eigen::Index first = n - options.min_points; first >= 0; --first) {
    if (q_max / curve.q_per_nm[first] < options.least_ratio) continue;
    const Verdict verdict = judge(curve, weights, options.law_tolerance, law, first, n - first);
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

// The drop in chi-square that the further numbers bring, on the same points and weights.
void compare_with_plain(PorodFit& fit, const Eigen::ArrayXd& q, const Eigen::VectorXd& intensity,
                        const Eigen::ArrayXd& noise, bool known, double tolerance) {
  TailLaw plain;
  plain.next_term = fit.law.next_term;
  const Eigen::ArrayXd variance = tolerant(q, intensity, noise, fit.law, tolerance);
  const TailFit rich = fit_tail(q, intensity, variance, fit.law), poor = fit_tail(q, intensity, variance, plain);
  const double after = (rich.residual.square() / variance).sum();
  const int extra = fit.law.extra(), freedom = fit.degrees_of_freedom;
  fit.richer_drop = (poor.residual.square() / variance).sum() - after;
  // Without known errors the scatter about the richer law is the yardstick.
  fit.richer_probability =
      known ? gsl_cdf_chisq_Q(std::max(0.0, fit.richer_drop), extra)
            : gsl_cdf_fdist_Q(std::max(0.0, fit.richer_drop / extra) / (after / freedom), extra, freedom);
  fit.richer_needed = fit.richer_probability < 0.01;
  if (!fit.richer_needed)
    fit.warnings.push_back(
        fmt::format("The richer law is not needed here (probability {:.2g} of the plain law); it only widens u(K).",
                    fit.richer_probability));
  if (fit.law.walls == Walls::smooth && fit.layer_nm2.band95.high < 0.0)
    fit.warnings.push_back(
        "The layer's s is negative beyond its error: the tail falls more slowly than q^-4, as under rough walls or a "
        "background that rises in another way. There is no layer to be read from it.");
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
  PorodFit fit;
  fit.law = {options.background, options.walls};
  Window window = options.q_range_per_nm ? given_window(curve, *options.q_range_per_nm, 5 + 2 * fit.law.extra())
                                         : automatic_window(curve, weights, options, fit.law);
  const Eigen::Index n = curve.size(), m = window.points;
  const Eigen::ArrayXd q = curve.q_per_nm.segment(window.first, m);
  const Eigen::VectorXd intensity = curve.intensity.segment(window.first, m);
  // An automatic window is as wide as the two-term law passes, so a next term just below notice is there as a rule;
  // left out, it would bias K by several of its u (measured: the 95 % interval then covers 10 %, with it 90 to 95 %).
  fit.next_term_fitted = fit.law.next_term = window.law_holds && !options.q_range_per_nm;
  const Eigen::ArrayXd smooth = weights.smooth.segment(window.first, m);
  const TailFit tail = fit_tail(q, intensity, fit.next_term_fitted ? smooth : without_ripples(q, smooth), fit.law);
  if (!tail.settled || !tail.influence.allFinite())
    throw NumericalError(
        fmt::format("the numbers of the law asked for cannot be found between q = {:.4g} and {:.4g} 1/nm.", q[0],
                    q[m - 1]),
        "Ask for a simpler background (flat, or square), for sharp walls, or give a wider q_range_per_nm.");
  fit.degrees_of_freedom = static_cast<int>(m - tail.coefficient.size());

  Eigen::VectorXd guess;  // stays empty where the curve brings its own
  if (!weights.known) {
    // The guess gives the shape, the scatter about the law the size; a floor for exact synthetic laws.
    guess =
        weights.variance * std::max(1e-20, scatter_of_residuals(tail.residual / smooth.sqrt(), fit.degrees_of_freedom));
  }
  const auto result = [&](Eigen::Index column, double law) {
    Eigen::VectorXd influence = Eigen::VectorXd::Zero(n);
    influence.segment(window.first, m) = tail.influence.row(column);
    const double value = tail.coefficient[column];
    return estimate_from(curve, value, influence, {{"Porod's law", law * value}}, guess);
  };
  const auto nothing = [&] { return estimate_from(curve, 0.0, Eigen::VectorXd::Zero(n)); };
  Eigen::Index at = 2;
  fit.background = result(0, 0.0);
  fit.constant = result(1, options.law_tolerance);
  fit.next_term = fit.next_term_fitted ? result(at++, 0.0) : nothing();
  fit.growth = options.background != TailBackground::flat ? result(at++, 0.0) : nothing();
  fit.layer_nm2 = options.walls == Walls::smooth ? result(at, 0.0) : nothing();
  if (curve.unit != IntensityUnit::relative) fit.constant_per_cm5 = scaled(fit.constant, per_cm4);
  fit.unit = curve.unit;
  fit.first = window.first;
  fit.points = m;
  fit.q_range_per_nm = {q[0], q[m - 1]};
  const double nan = std::numeric_limits<double>::quiet_NaN();
  fit.chi2 = weights.known ? (tail.residual.square() / weights.variance.segment(window.first, m).array()).sum() : nan;
  fit.chi2_probability = weights.known ? gsl_cdf_chisq_Q(fit.chi2, fit.degrees_of_freedom) : nan;
  const Verdict verdict = judge(curve, weights, options.law_tolerance, fit.law, window.first, m);
  fit.next_term_z = verdict.next_term_z;
  fit.law_holds = window.law_holds && verdict.holds();
  if (!fit.law.plain()) compare_with_plain(fit, q, intensity, smooth, weights.known, options.law_tolerance);
  warn(fit, weights.known);
  return fit;
}

Eigen::VectorXd porod_background(const PorodFit& fit, const Eigen::VectorXd& q_per_nm) {
  const Eigen::ArrayXd q2 = q_per_nm.array().square();
  const double b = fit.background.value, growth = fit.growth.value;
  switch (fit.law.background) {
    case TailBackground::square:
      return b + growth * q2;
    case TailBackground::fourth:
      return b + growth * q2.square();
    case TailBackground::exponential:
      return b * (growth * q2).exp();
    case TailBackground::flat:
      break;
  }
  return Eigen::VectorXd::Constant(q_per_nm.size(), b);
}

Eigen::VectorXd porod_intensity(const PorodFit& fit, const Eigen::VectorXd& q_per_nm) {
  const Eigen::ArrayXd q2 = q_per_nm.array().square();
  return porod_background(fit, q_per_nm).array() +
         (fit.constant.value * q2.pow(-2) + fit.next_term.value * q2.pow(-3)) * (-fit.layer_nm2.value * q2).exp();
}

CurveSum background_sum(const PorodFit& fit, const Eigen::VectorXd& q_per_nm, const Eigen::VectorXd& weight) {
  const Eigen::ArrayXd q2 = q_per_nm.array().square();
  Eigen::ArrayXd per_b = Eigen::ArrayXd::Ones(q2.size()), per_growth = Eigen::ArrayXd::Zero(q2.size());
  if (fit.law.background == TailBackground::square) per_growth = q2;
  if (fit.law.background == TailBackground::fourth) per_growth = q2.square();
  if (fit.law.background == TailBackground::exponential) {
    per_b = (fit.growth.value * q2).exp();
    per_growth = fit.background.value * q2 * per_b;
  }
  return {weight.dot(porod_background(fit, q_per_nm)), weight.dot(per_b.matrix()) * fit.background.influence +
                                                           weight.dot(per_growth.matrix()) * fit.growth.influence};
}

CurveSum surface_tail(const PorodFit& fit, double from_per_nm) {
  const double s = fit.layer_nm2.value;
  const double k = smooth_tail(2, s, from_per_nm), c = smooth_tail(4, s, from_per_nm);
  CurveSum out{fit.constant.value * k + fit.next_term.value * c,
               k * fit.constant.influence + c * fit.next_term.influence};
  if (fit.law.walls == Walls::smooth && fit.layer_nm2.u > 0.0) {
    // The slope in s is infinite at 0, where the integral goes as sqrt(s); the chord over +- u(s) is what its error
    // does.
    const auto at = [&](double layer) {
      return fit.constant.value * smooth_tail(2, layer, from_per_nm) +
             fit.next_term.value * smooth_tail(4, layer, from_per_nm);
    };
    const double u = fit.layer_nm2.u;
    out.influence += (at(s + u) - at(s - u)) / (2.0 * u) * fit.layer_nm2.influence;
  }
  return out;
}

Estimate layer_width_nm(const PorodFit& fit) {
  const auto root = [](double s) { return std::sqrt(std::max(0.0, s)); };
  const CurveEstimate& s = fit.layer_nm2;
  return {root(s.value),
          root(s.band68.high) - root(s.value),
          {root(s.band68.low), root(s.band68.high)},
          {root(s.band95.low), root(s.band95.high)}};
}

}  // namespace sievelight
