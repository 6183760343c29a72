// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/guinier.hpp"

#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_bessel.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using Eigen::ArrayXd;

// theta = (ln I0, Rg^2) that minimises sum w (I - M)^2, M = exp(theta_0 - theta_1 x).
struct LawFit {
  Eigen::Vector2d theta;
  ArrayXd law;              // (m) M
  Eigen::Matrix2d hessian;  // of half the sum: with the residuals' part, so that the influence is exact
};

LawFit fit_law(const ArrayXd& x, const ArrayXd& intensity, const ArrayXd& weight) {
  // Start: the straight line through the logarithms of the positive points, weighted by (I / u)^2.
  Eigen::Matrix2d a = Eigen::Matrix2d::Zero();
  Eigen::Vector2d b = Eigen::Vector2d::Zero();
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    if (!(intensity[i] > 0.0)) continue;
    const Eigen::Vector2d v(1.0, -x[i]);
    const double w = weight[i] * intensity[i] * intensity[i];
    a += w * v * v.transpose();
    b += w * std::log(intensity[i]) * v;
  }
  const auto sum = [&](const Eigen::Vector2d& theta) {
    return (weight * (intensity - (theta[0] - theta[1] * x).exp()).square()).sum();
  };
  LawFit out{a.ldlt().solve(b), {}, {}};
  double now = sum(out.theta);
  bool done = false;
  for (int step = 0; step < 100; ++step) {
    out.law = (out.theta[0] - out.theta[1] * x).exp();
    Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
    Eigen::Vector2d gradient = Eigen::Vector2d::Zero();
    out.hessian.setZero();
    for (Eigen::Index i = 0; i < x.size(); ++i) {
      const Eigen::Vector2d v(1.0, -x[i]);
      const double wm = weight[i] * out.law[i];
      gradient += wm * (intensity[i] - out.law[i]) * v;
      normal += wm * out.law[i] * v * v.transpose();
      out.hessian += wm * (2.0 * out.law[i] - intensity[i]) * v * v.transpose();
    }
    if (done) return out;
    // Newton where the surface is convex, Gauss-Newton elsewhere.
    const bool convex = out.hessian(0, 0) > 0.0 && out.hessian.determinant() > 0.0;
    Eigen::Vector2d move = (convex ? out.hessian : normal).ldlt().solve(gradient);
    double next = sum(out.theta + move);
    for (int half = 0; half < 30 && !(next <= now); ++half) next = sum(out.theta + (move *= 0.5));
    if (!move.allFinite() || !std::isfinite(next)) break;
    if (next <= now) out.theta += move;
    done = !(next <= now) || move.cwiseAbs().cwiseQuotient(out.theta.cwiseAbs().cwiseMax(1e-12)).maxCoeff() < 1e-13;
    now = std::min(now, next);
  }
  if (done) return out;
  throw NumericalError("the Guinier fit did not settle.", "Check the curve for wild points, or give q_range_per_nm.");
}

// Relative overestimate of Rg on a sphere: P(q) = (3 j1(qR) / qR)^2, Rg^2 = 3 R^2 / 5, same points and weights.
double sphere_bias(const ArrayXd& x, const ArrayXd& relative_weight, double rg) {
  double bias = 0.0;
  for (int pass = 0; pass < 4; ++pass) {
    const double radius = std::sqrt(5.0 / 3.0) * rg / (1.0 + bias);
    const ArrayXd p = (3.0 * x).sqrt().unaryExpr([&](double q) {
      const double f = 3.0 * gsl_sf_bessel_j1(q * radius) / (q * radius);
      return f * f;
    });
    const LawFit fit = fit_law(x, p, relative_weight / p.square());
    bias = std::sqrt(fit.theta[1] * 5.0 / 3.0) / radius - 1.0;
  }
  return bias;
}

// kappa of ln I = c0 - c1 y + kappa y^2 (y = x Rg^2) from the residuals relative to the law, and its variance factor.
std::pair<double, double> curvature(const ArrayXd& y, const ArrayXd& residual, const ArrayXd& relative_weight) {
  Eigen::MatrixXd columns(y.size(), 3);
  columns.col(0).setOnes();
  columns.col(1) = y;
  columns.col(2) = y.square();
  const Eigen::Matrix3d inverse =
      (columns.transpose() * relative_weight.matrix().asDiagonal() * columns).eval().inverse();
  const Eigen::Vector3d c = inverse * (columns.transpose() * (relative_weight * residual).matrix());
  return {c[2], inverse(2, 2)};
}

void warn(GuinierFit& fit, const GuinierOptions& options, const GuinierWindow& window, bool known) {
  auto& out = fit.warnings;
  if (!known) out.push_back("The curve has no uncertainty of its own: the errors come from the scatter about the law.");
  if (fit.q_rg_high > options.q_rg_max * (1.0 + 1e-9))
    out.push_back(fmt::format("The given range ends at q Rg = {:.2f}, beyond {:.2f}: the law is bent there.",
                              fit.q_rg_high, options.q_rg_max));
  if (fit.q_rg_low > 1.0)
    out.push_back(fmt::format("The lowest point used has q Rg = {:.2f}: the range hardly shows the law's flat start.",
                              fit.q_rg_low));
  if (fit.dropped > 0)
    out.push_back(fmt::format("{} points below q = {:.4g} 1/nm do not obey the law and were left out.", fit.dropped,
                              fit.q_range_per_nm.low));
  if (!window.law_holds)
    out.push_back("No window obeys the law within its errors and 1 %: chi-square says that another shape is there.");
  // -1/14 belongs to a sphere; a curvature that is sure and clearly larger means a mixture, a rod or a correlation.
  if (std::abs(fit.curvature) - 3.0 * fit.curvature_u > 0.15)
    out.push_back(
        fmt::format("ln I is curved against q^2 (curvature {:.2f}, a sphere has -0.07): mixed sizes, "
                    "elongated objects, or objects that see each other.",
                    fit.curvature));
}

}  // namespace

GuinierFit fit_guinier(const Curve& curve, const GuinierOptions& options) {
  check_pinhole(curve, "a radius of gyration");
  const PointWeights weights = point_weights(curve);
  GuinierWindow window = find_guinier_window(curve, weights, options);
  const Eigen::Index n = curve.size();
  GuinierFit fit;
  ArrayXd x, intensity, weight;
  LawFit law;
  double rg = 0.0;
  for (;; --window.points) {
    x = curve.q_per_nm.segment(window.first, window.points).array().square() / 3.0;
    intensity = curve.intensity.segment(window.first, window.points);
    weight = weights.smooth.segment(window.first, window.points).array().inverse();
    law = fit_law(x, intensity, weight);
    if (!(law.theta[1] > 0.0))
      throw NumericalError(
          fmt::format("the intensity does not fall between q = {:.4g} and {:.4g} 1/nm: ln I has the slope {:+.3g} nm^2 "
                      "against q^2, and a Guinier fit needs a negative one.",
                      curve.q_per_nm[window.first], curve.q_per_nm[window.first + window.points - 1],
                      -law.theta[1] / 3.0),
          "A correlation peak or the beamstop's shadow lies there; choose another range.");
    rg = std::sqrt(law.theta[1]);
    // The window was chosen on logarithms; the final fit may be a hair beyond.
    const bool beyond = rg * std::sqrt(3.0 * x[x.size() - 1]) > options.q_rg_max;
    if (options.q_range_per_nm || !beyond || window.points <= options.min_points) break;
  }
  const ArrayXd residual = intensity - law.law;
  fit.degrees_of_freedom = static_cast<int>(window.points) - 2;
  Eigen::VectorXd guess;  // stays empty where the curve brings its own
  ArrayXd point_variance = weights.variance.segment(window.first, window.points);
  if (!weights.known) {
    // The floor is the rounding of the arithmetic: an exact synthetic law has no scatter.
    const double share = std::max(1e-30, scatter_of_residuals(residual / law.law, fit.degrees_of_freedom));
    point_variance = share * law.law.square();
    guess = Eigen::VectorXd::Zero(n);
    guess.segment(window.first, window.points) = point_variance;
  }
  Eigen::VectorXd d_log_i0 = Eigen::VectorXd::Zero(n), d_rg2 = Eigen::VectorXd::Zero(n);
  const Eigen::Matrix2d inverse = law.hessian.inverse();
  for (Eigen::Index i = 0; i < window.points; ++i) {
    const Eigen::Vector2d move = inverse * (weight[i] * law.law[i] * Eigen::Vector2d(1.0, -x[i]));
    d_log_i0[window.first + i] = move[0];
    d_rg2[window.first + i] = move[1];
  }
  const double i0 = std::exp(law.theta[0]);
  fit.rg_nm = estimate_from(curve, rg, d_rg2 / (2.0 * rg), {}, guess);
  fit.i0 = estimate_from(curve, i0, i0 * d_log_i0, {}, guess);
  fit.unit = curve.unit;
  fit.first = window.first;
  fit.points = window.points;
  fit.dropped = window.dropped;
  fit.q_range_per_nm = {curve.q_per_nm[window.first], curve.q_per_nm[window.first + window.points - 1]};
  fit.q_rg_low = fit.q_range_per_nm.low * rg;
  fit.q_rg_high = fit.q_range_per_nm.high * rg;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  fit.chi2 = weights.known ? (residual.square() / point_variance).sum() : nan;
  fit.chi2_probability =
      weights.known && fit.degrees_of_freedom > 0 ? gsl_cdf_chisq_Q(fit.chi2, fit.degrees_of_freedom) : nan;
  const ArrayXd relative_weight = law.law.square() / point_variance;
  const auto [kappa, kappa_variance] = curvature(x * rg * rg, residual / law.law, relative_weight);
  fit.curvature = kappa;
  fit.curvature_u = std::sqrt(kappa_variance);
  fit.sphere_bias_percent = 100.0 * sphere_bias(x, weight * law.law.square(), rg);
  warn(fit, options, window, weights.known);
  return fit;
}

Eigen::VectorXd guinier_intensity(const GuinierFit& fit, const Eigen::VectorXd& q_per_nm) {
  return fit.i0.value * (-q_per_nm.array().square() * (fit.rg_nm.value * fit.rg_nm.value / 3.0)).exp();
}

}  // namespace sievelight
