// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/random_two_phase.hpp"

#include "sievelight/analysis/residual_tests.hpp"
#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// A and B at a given length are a linear fit; the length is searched on a grid and then moved with them.
class Model {
 public:
  Model(const ArrayXd& q, const VectorXd& intensity, const ArrayXd& variance, bool background)
      : q2_(q.square()), root_(variance.sqrt().inverse()), y_(root_.cwiseProduct(intensity)), background_(background) {}

  // (m, 1 or 2) columns of A and B, weighted.
  MatrixXd linear(double a) const {
    MatrixXd out(q2_.size(), background_ ? 2 : 1);
    out.col(0) = (1.0 + q2_ * a * a).square().inverse();
    if (background_) out.col(1).setOnes();
    return root_.asDiagonal() * out;
  }
  VectorXd slope(double a, double amplitude) const {  // d I / d ln a, weighted
    const ArrayXd x = q2_ * a * a;
    return root_.cwiseProduct((-4.0 * amplitude * x * (1.0 + x).pow(-3)).matrix());
  }
  double solve(double a, VectorXd& c) const {
    const MatrixXd columns = linear(a);
    c = columns.colPivHouseholderQr().solve(y_);
    return (y_ - columns * c).squaredNorm();
  }
  MatrixXd jacobian(double a, const VectorXd& c) const {  // A, (B,) ln a
    const MatrixXd columns = linear(a);
    MatrixXd out(columns.rows(), columns.cols() + 1);
    out << columns, slope(a, c[0]);
    return out;
  }
  const VectorXd& root() const { return root_; }
  const VectorXd& y() const { return y_; }

 private:
  ArrayXd q2_;
  VectorXd root_, y_;
  bool background_;
};

struct Window {
  Eigen::Index first = 0, points = 0;
};

Window window_of(const Curve& curve, const std::optional<Range>& range) {
  Window out{0, range ? 0 : curve.size()};
  for (Eigen::Index i = 0; range && i < curve.size(); ++i) {
    if (!range->contains(curve.q_per_nm[i])) continue;
    if (out.points == 0) out.first = i;
    ++out.points;
  }
  if (out.points < 6)
    throw InputError(fmt::format("{} points are there for the random two-phase model; it needs 6.", out.points),
                     "Widen q_range_per_nm, or reduce the frames onto more q bins.");
  return out;
}

void warn(RandomTwoPhase& fit, bool known) {
  auto& out = fit.warnings;
  if (!known)
    out.push_back("The curve has no uncertainty of its own: the errors come from the scatter about the model.");
  if (!fit.model_holds)
    out.push_back(
        fmt::format("The residuals are not noise (chi-square probability {:.2g}, runs {:.2g}): this is no random "
                    "two-phase system of one length, and a is only a length that resembles it.",
                    fit.chi2_probability, fit.runs_probability));
  const double a = fit.correlation_nm.value;
  if (fit.q_range_per_nm.high * a < 3.0)
    out.push_back(fmt::format("The curve ends at q a = {:.2g}: the tail that belongs to the surface is not measured.",
                              fit.q_range_per_nm.high * a));
  if (fit.q_range_per_nm.low * a > 1.0)
    out.push_back(fmt::format("The curve starts at q a = {:.2g}: its level at q = 0 and so Q are extrapolated.",
                              fit.q_range_per_nm.low * a));
}

}  // namespace

RandomTwoPhase fit_random_two_phase(const Curve& curve, const RandomTwoPhaseOptions& options) {
  check_pinhole(curve, "a correlation length");
  const Window window = window_of(curve, options.q_range_per_nm);
  const PointWeights weights = point_weights(curve);
  const Eigen::Index n = curve.size(), m = window.points;
  const ArrayXd q = curve.q_per_nm.segment(window.first, m), smooth = weights.smooth.segment(window.first, m);
  const VectorXd intensity = curve.intensity.segment(window.first, m);
  const Model model(q, intensity, smooth, options.background);

  constexpr int steps = 80;
  const double least = pi / (4.0 * q[m - 1]), largest = 4.0 * pi / q[0];
  VectorXd c;
  double a = 0.0, now = std::numeric_limits<double>::infinity();
  for (int k = 0; k <= steps; ++k) {
    const double trial = least * std::pow(largest / least, static_cast<double>(k) / steps);
    if (const double sum = model.solve(trial, c); sum < now && c[0] > 0.0) now = sum, a = trial;
  }
  bool settled = false;
  if (a > 0.0) now = model.solve(a, c);
  for (int step = 0; step < 100 && a > 0.0 && !settled; ++step) {
    const VectorXd residual = model.y() - model.linear(a) * c;
    double move = model.jacobian(a, c).colPivHouseholderQr().solve(residual).tail(1)[0];
    double next = now;
    VectorXd moved = c;
    for (int half = 0; half < 30; ++half, move *= 0.5)
      if (next = model.solve(a * std::exp(move), moved); next <= now) break;
    settled = !(next < now) || std::abs(move) < 1e-12;
    if (next <= now) a *= std::exp(move), c = moved, now = next;
  }
  if (!settled || !(c[0] > 0.0) || a < 1.01 * least || a > largest / 1.01)
    throw NumericalError(
        fmt::format("no random two-phase system between a = {:.3g} and {:.3g} nm fits the curve.", least, largest),
        "The intensity must fall from a plateau to q^-4 within the range; look at the curve, or give q_range_per_nm.");

  const MatrixXd jacobian = model.jacobian(a, c);
  const Eigen::Index p = jacobian.cols();
  const MatrixXd influence =
      (jacobian.transpose() * jacobian).inverse() * jacobian.transpose() * model.root().asDiagonal();
  const ArrayXd residual = (model.y() - model.linear(a) * c).cwiseQuotient(model.root());
  RandomTwoPhase fit;
  fit.degrees_of_freedom = static_cast<int>(m - p);
  VectorXd guess;  // stays empty where the curve brings its own
  if (!weights.known)
    guess = weights.variance * std::max(1e-20, scatter_of_residuals(residual / smooth.sqrt(), fit.degrees_of_freedom));
  const auto estimate = [&](double value, const VectorXd& combination) {
    VectorXd all = VectorXd::Zero(n);
    all.segment(window.first, m) = influence.transpose() * combination;
    return estimate_from(curve, value, all, {}, guess);
  };
  const VectorXd one = VectorXd::Unit(p, 0), length = VectorXd::Unit(p, p - 1);
  const double amplitude = c[0];
  fit.correlation_nm = estimate(a, a * length);
  fit.amplitude = estimate(amplitude, one);
  fit.background = options.background ? estimate(c[1], VectorXd::Unit(p, 1)) : estimate(0.0, VectorXd::Zero(p));
  const double k = amplitude * std::pow(a, -4), total = 0.25 * pi * amplitude * std::pow(a, -3);
  fit.constant = estimate(k, k * (one / amplitude - 4.0 * length));
  fit.invariant = estimate(total, total * (one / amplitude - 3.0 * length));
  fit.unit = curve.unit;
  fit.q_range_per_nm = {q[0], q[m - 1]};
  fit.first = window.first;
  fit.points = m;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  fit.chi2 = weights.known ? (residual.square() / weights.variance.segment(window.first, m).array()).sum() : nan;
  fit.chi2_probability = weights.known ? gsl_cdf_chisq_Q(fit.chi2, fit.degrees_of_freedom) : nan;
  // Residuals far below the noise (of a synthetic curve: of rounding) say nothing by their signs.
  const ArrayXd silent = weights.known ? (1e-3 * smooth.sqrt()).eval() : (1e-9 * intensity.array().abs()).eval();
  fit.runs_probability = runs_test((residual.abs() > silent).select(residual, 0.0).matrix()).probability;
  fit.model_holds = fit.runs_probability > 0.01 && (!weights.known || fit.chi2_probability > 0.01);
  warn(fit, weights.known);
  return fit;
}

VectorXd random_two_phase_intensity(const RandomTwoPhase& fit, const VectorXd& q_per_nm) {
  const double a = fit.correlation_nm.value;
  return fit.amplitude.value * (1.0 + q_per_nm.array().square() * a * a).square().inverse() + fit.background.value;
}

SpecificSurface random_two_phase_surface(const Curve& curve, const RandomTwoPhase& fit, const SurfaceOptions& options) {
  PorodFit porod;
  porod.constant = fit.constant;
  if (fit.unit != IntensityUnit::relative) porod.constant_per_cm5 = scaled(fit.constant, 1e28);
  porod.unit = fit.unit;
  Invariant total;
  total.value = fit.invariant;
  total.unit = fit.unit;
  SpecificSurface out = specific_surface(curve, porod, total, options);
  if (!fit.model_holds)
    out.warnings.push_back("The random two-phase model does not hold for this curve: these are no true surfaces.");
  return out;
}

}  // namespace sievelight
