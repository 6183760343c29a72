// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/contrast_series.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

namespace sievelight {
namespace {

using Eigen::Matrix3d;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;

constexpr double z95 = 1.959963984540054;

struct Spread {
  MatrixXd full;     // (m, m) covariance of the results
  MatrixXd weights;  // the same without the causes that all of them share
};

Spread spread_of(const std::vector<ContrastPoint>& points) {
  const auto m = static_cast<Eigen::Index>(points.size());
  Spread out{MatrixXd(m, m), {}};
  std::set<std::string> common;
  for (const auto& [id, cause] : points[0].curve.causes)
    if (cause.kind == CauseKind::coherent) common.insert(id);
  for (const auto& [id, sd] : points[0].result.causes) common.insert(id);
  for (Eigen::Index i = 0; i < m; ++i) {
    const ContrastPoint& a = points[static_cast<std::size_t>(i)];
    out.full(i, i) = a.result.u * a.result.u;
    for (Eigen::Index k = 0; k < i; ++k) {
      const ContrastPoint& b = points[static_cast<std::size_t>(k)];
      out.full(i, k) = out.full(k, i) = covariance(a.curve, a.result, b.curve, b.result);
    }
    std::erase_if(common, [&](const std::string& id) {
      const auto cause = a.curve.causes.find(id);
      return !a.result.causes.contains(id) &&
             (cause == a.curve.causes.end() || cause->second.kind != CauseKind::coherent);
    });
  }
  out.weights = out.full;
  for (const std::string& id : common) {
    VectorXd along(m);
    for (Eigen::Index i = 0; i < m; ++i)
      along[i] = effect(points[static_cast<std::size_t>(i)].curve, points[static_cast<std::size_t>(i)].result, id);
    out.weights -= along * along.transpose();
  }
  // Results without any error of their own would make a matrix without inverse; a trace of the full one is their floor.
  out.weights.diagonal() += 1e-8 * out.full.diagonal();
  return out;
}

// In scaled densities x = rho / unit: theta = (t, c, d), y = c (t - x)^2 + d.
VectorXd parabola(const Vector3d& theta, const VectorXd& x) {
  return theta[1] * (theta[0] - x.array()).square() + theta[2];
}
MatrixXd slopes(const Vector3d& theta, const VectorXd& x) {
  MatrixXd out(x.size(), 3);
  const Eigen::ArrayXd away = theta[0] - x.array();
  out << (2.0 * theta[1] * away).matrix(), away.square().matrix(), VectorXd::Ones(x.size());
  return out;
}

[[noreturn]] void refuse_flat() {
  throw NumericalError(
      "the results do not bend upwards with the fluid's scattering-length density.",
      "Check that every fluid stands beside its own curve and that all curves have one scale; fluids of "
      "more different densities help.");
}

Vector3d start(const VectorXd& x, const VectorXd& y, const std::optional<Given>& solid, double unit) {
  if (solid) {
    const double t = solid->value / unit;
    MatrixXd columns(x.size(), 2);
    columns << (t - x.array()).square().matrix(), VectorXd::Ones(x.size());
    const VectorXd c = columns.colPivHouseholderQr().solve(y);
    if (!(c[0] > 0.0)) refuse_flat();
    return {t, c[0], c[1]};
  }
  MatrixXd columns(x.size(), 3);
  columns << VectorXd::Ones(x.size()), x, x.cwiseAbs2();
  const VectorXd p = columns.colPivHouseholderQr().solve(y);
  if (!(p[2] > 0.0)) refuse_flat();
  return {-p[1] / (2.0 * p[2]), p[2], p[0] - p[1] * p[1] / (4.0 * p[2])};
}

struct Fit {
  Vector3d theta;
  MatrixXd weights;  // (3, m)
  Matrix3d covariance;
  MatrixXd inverse;  // (m, m) of the weighting covariance
};

// Gauss-Newton; without a prior it lands where the linear fit of the parabola does.
Fit settle(Vector3d theta, const VectorXd& x, const VectorXd& y, const VectorXd& u_x, const Spread& spread,
           const std::optional<Given>& solid, double unit) {
  Fit out;
  const bool fixed = solid && solid->u == 0.0;
  for (int step = 0; step < 200; ++step) {
    const MatrixXd j = slopes(theta, x);
    // d y / d x of the parabola is minus its slope in t.
    const VectorXd from_fluids = j.col(0).cwiseProduct(u_x).cwiseAbs2();
    MatrixXd weighting = spread.weights, full = spread.full;
    weighting.diagonal() += from_fluids;
    full.diagonal() += from_fluids;
    out.inverse = weighting.llt().solve(MatrixXd::Identity(x.size(), x.size()));
    Matrix3d normal = j.transpose() * out.inverse * j;
    Vector3d gradient = j.transpose() * out.inverse * (y - parabola(theta, x));
    Matrix3d prior = Matrix3d::Zero();
    if (fixed) {
      normal.row(0).setZero();
      normal.col(0).setZero();
      normal(0, 0) = 1.0;
      gradient[0] = 0.0;
    } else if (solid) {
      prior(0, 0) = std::pow(unit / solid->u, 2);
      normal += prior;
      gradient[0] += prior(0, 0) * (solid->value / unit - theta[0]);
    }
    const Matrix3d inverse = normal.inverse();
    Vector3d move = inverse * gradient;
    // The curvature c stays positive on the way.
    if (theta[1] + move[1] < 0.1 * theta[1]) move *= 0.9 * theta[1] / -move[1];
    theta += move;
    out.weights = inverse * j.transpose() * out.inverse;
    if (fixed) out.weights.row(0).setZero();
    out.covariance = out.weights * full * out.weights.transpose() + inverse * prior * inverse;
    const Vector3d size(1.0, theta[1], std::abs(theta[2]) + theta[1]);
    if (move.cwiseQuotient(size).cwiseAbs().maxCoeff() < 1e-12) break;
    if (!theta.allFinite() || step == 199) refuse_flat();
  }
  out.theta = theta;
  return out;
}

// Fieller: the t for which p1 + 2 p2 t, the parabola's slope, is zero within z of its error. Infinite where p2 itself
// is.
Range fieller(const Vector3d& theta, const Matrix3d& covariance, double z) {
  const double t = theta[0], c = theta[1];
  Eigen::Matrix<double, 2, 3> d;  // (p1, p2) = (-2 c t, c)
  d << -2.0 * c, -2.0 * t, 0.0, 0.0, 1.0, 0.0;
  const Eigen::Matrix2d v = d * covariance * d.transpose();
  const double p1 = -2.0 * c * t, z2 = z * z;
  const double a = 4.0 * (c * c - z2 * v(1, 1)), b = 4.0 * (p1 * c - z2 * v(0, 1)), e = p1 * p1 - z2 * v(0, 0);
  const double root = std::sqrt(std::max(0.0, b * b - 4.0 * a * e));
  if (!(a > 0.0)) return {};
  return {(-b - root) / (2.0 * a), (-b + root) / (2.0 * a)};
}

void find(ContrastSeries& out, const VectorXd& fluids, const Estimate& share) {
  const double low = fluids.minCoeff(), high = fluids.maxCoeff(), match = out.match_per_cm2.value;
  if (out.remainder.band95.low > 0.0)
    out.findings.push_back(
        fmt::format("The scattering does not vanish at the match point: {:.3g} % (95 %: {:.3g} to {:.3g} %) of that of "
                    "the empty solid remains. Closed pores, pores that the fluid did not fill, or density fluctuations "
                    "in the solid or the fluid give this alike; these curves do not tell which.",
                    100 * share.value, 100 * std::max(0.0, share.band95.low), 100 * share.band95.high));
  else if (out.remainder.band95.high < 0.0)
    out.findings.push_back(
        "The minimum lies below zero beyond its error: too much background was subtracted near the match point, the "
        "curves differ in scale, or a fluid's density is wrong.");
  else
    out.findings.push_back(
        fmt::format("No remainder is seen at the match point: all pores answer to the fluid, but for {:.2g} % of the "
                    "empty solid's scattering at most (95 %).",
                    100 * std::max(0.0, share.band95.high)));
  if (match < low || match > high)
    out.findings.push_back(
        fmt::format("The match point, {:.4g} 1/cm2, lies outside the fluids used ({:.4g} to {:.4g}): it and the "
                    "remainder are extrapolated.",
                    match, low, high));
  if (!std::isfinite(out.match_per_cm2.band95.low))
    out.warnings.push_back(
        "The curvature is not sure at 95 %: the match point has no bounds. Use more different fluids.");
  if (out.chi2_probability < 0.01)
    out.warnings.push_back(
        fmt::format("The results do not lie on one parabola (probability {:.2g}): filling that differs between the "
                    "fluids, a solid that swells or adsorbs, or a wrong fluid density.",
                    out.chi2_probability));
  if (out.degrees_of_freedom == 0)
    out.warnings.push_back("As many fluids as numbers fitted: nothing checks that the results lie on a parabola.");
}

}  // namespace

ContrastSeries fit_contrast_series(const std::vector<ContrastPoint>& points, const ContrastOptions& options) {
  const auto m = static_cast<Eigen::Index>(points.size());
  VectorXd rho(m), u_rho(m), y(m);
  std::set<double> different;
  for (Eigen::Index i = 0; i < m; ++i) {
    const ContrastPoint& point = points[static_cast<std::size_t>(i)];
    check(point.curve);
    if (point.result.influence.size() != point.curve.size())
      throw InputError(fmt::format("result {} has an influence of {} values but its curve has {} points.", i + 1,
                                   point.result.influence.size(), point.curve.size()),
                       "Give each fluid its own curve and a result of that curve.");
    if (!std::isfinite(point.fluid_per_cm2.value) || !(point.fluid_per_cm2.u >= 0.0))
      throw InputError(fmt::format("the scattering-length density of fluid {} is {} with u = {}.", i + 1,
                                   point.fluid_per_cm2.value, point.fluid_per_cm2.u),
                       "Give it in 1/cm2 (vacuum 0, water about 9.4e10).");
    if (!(point.result.u > 0.0))
      throw InputError(fmt::format("result {} has no uncertainty.", i + 1),
                       "The weights need one; use curves with uncertainties.");
    rho[i] = point.fluid_per_cm2.value, u_rho[i] = point.fluid_per_cm2.u, y[i] = point.result.value;
    different.insert(rho[i]);
  }
  const auto& solid = options.solid_per_cm2;
  if (solid && (!std::isfinite(solid->value) || !(solid->u >= 0.0)))
    throw InputError(fmt::format("the solid's scattering-length density is {} with u = {}.", solid->value, solid->u),
                     "Give it in 1/cm2 (silica of 2.2 g/cm3: 1.86e11).");
  const std::size_t needed = solid ? 2 : 3;
  if (different.size() < needed)
    throw InputError(fmt::format("{} different fluids make no parabola; it needs {}.", different.size(), needed),
                     solid ? "Measure with one more fluid." : "Measure with more fluids, or give the solid's density.");

  const double unit = std::max(rho.cwiseAbs().maxCoeff(), solid ? std::abs(solid->value) : 0.0);
  const VectorXd x = rho / unit, u_x = u_rho / unit;
  const Spread spread = spread_of(points);
  const Fit fit = settle(start(x, y, solid, unit), x, y, u_x, spread, solid, unit);
  ContrastSeries out;
  const Vector3d back(unit, 1.0 / (unit * unit), 1.0);
  out.weights = back.asDiagonal() * fit.weights;
  out.covariance = back.asDiagonal() * fit.covariance * back.asDiagonal();
  const Vector3d theta = back.cwiseProduct(fit.theta), u = out.covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
  out.match_per_cm2 = Estimate::normal(theta[0], u[0]);
  const Range near = fieller(fit.theta, fit.covariance, 1.0), wide = fieller(fit.theta, fit.covariance, z95);
  out.match_per_cm2.band68 = {unit * near.low, unit * near.high};
  out.match_per_cm2.band95 = {unit * wide.low, unit * wide.high};
  out.open = Estimate::normal(theta[1], u[1]);
  out.remainder = Estimate::normal(theta[2], u[2]);
  const double t = fit.theta[0], c = fit.theta[1], d = fit.theta[2], empty = c * t * t + d;
  const Vector3d slope = Vector3d(-d * 2.0 * c * t, -d * t * t, c * t * t) / (empty * empty);
  out.share = Estimate::normal(d / empty, std::sqrt(std::max(0.0, slope.dot(fit.covariance * slope))));
  out.fitted = parabola(fit.theta, x);
  const VectorXd residual = y - out.fitted;
  out.deviation = residual.cwiseQuotient(spread.full.diagonal().cwiseSqrt());
  out.chi2 = residual.dot(fit.inverse * residual);
  const bool prior = solid && solid->u > 0.0;
  if (prior) out.chi2 += std::pow((theta[0] - solid->value) / solid->u, 2);
  out.degrees_of_freedom = static_cast<int>(m) - (solid ? 2 : 3);
  if (out.degrees_of_freedom > 0) out.chi2_probability = gsl_cdf_chisq_Q(out.chi2, out.degrees_of_freedom);
  find(out, rho, out.share);
  return out;
}

VectorXd contrast_parabola(const ContrastSeries& series, const VectorXd& fluid_per_cm2) {
  return series.open.value * (series.match_per_cm2.value - fluid_per_cm2.array()).square() + series.remainder.value;
}

CurveEstimate mean_intensity(const Curve& curve, Range q_range_per_nm) {
  check(curve);
  VectorXd share = VectorXd::Zero(curve.size());
  for (Eigen::Index i = 0; i < curve.size(); ++i) share[i] = q_range_per_nm.contains(curve.q_per_nm[i]) ? 1.0 : 0.0;
  if (share.sum() == 0.0)
    throw InputError(
        fmt::format("no point lies between q = {:.4g} and {:.4g} 1/nm.", q_range_per_nm.low, q_range_per_nm.high),
        fmt::format("The curve has {} points from {:.4g} to {:.4g} 1/nm.", curve.size(), curve.q_per_nm[0],
                    curve.q_per_nm[curve.size() - 1]));
  share /= share.sum();
  return estimate_from(curve, share.dot(curve.intensity), share);
}

}  // namespace sievelight
