// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_estimate.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/influence.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace sievelight {

CurveEstimate estimate_from(const Curve& curve, double value, Eigen::VectorXd influence,
                            std::map<std::string, double> causes, Eigen::VectorXd guessed_variance) {
  const Eigen::ArrayXd points =
      guessed_variance.size() > 0 ? guessed_variance.array().eval() : pointwise_u(curve).array().square().eval();
  double variance = (influence.array().square() * points).sum();
  for (const auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::coherent) {
      const auto own = causes.find(id);  // an id that acts through the curve and beside it adds with its sign
      variance += std::pow(influence.dot(cause.u) + (own == causes.end() ? 0.0 : own->second), 2);
    }
  for (const auto& [id, sd] : causes) {
    const auto shared = curve.causes.find(id);
    if (shared == curve.causes.end() || shared->second.kind != CauseKind::coherent) variance += sd * sd;
  }
  return {Estimate::normal(value, std::sqrt(variance)), std::move(influence), std::move(causes),
          std::move(guessed_variance)};
}

CurveEstimate estimate_without_curve(double value, double u) {
  if (!std::isfinite(value) || !std::isfinite(u) || u < 0.0)
    throw InputError(fmt::format("a number is {} with u = {}.", value, u),
                     "Give a finite value and a standard uncertainty of 0 or more.");
  CurveEstimate out;
  static_cast<Estimate&>(out) = Estimate::normal(value, u);
  return out;
}

Eigen::VectorXd larger_guess(const CurveEstimate& a, const CurveEstimate& b) {
  if (a.guessed_variance.size() == 0) return b.guessed_variance;
  if (b.guessed_variance.size() == 0) return a.guessed_variance;
  return a.guessed_variance.cwiseMax(b.guessed_variance);
}

CurveEstimate scaled(const CurveEstimate& estimate, double factor) {
  CurveEstimate out{Estimate::normal(factor * estimate.value, std::abs(factor) * estimate.u),
                    factor * estimate.influence, estimate.causes, estimate.guessed_variance};
  for (auto& [id, sd] : out.causes) sd *= factor;
  return out;
}

double effect(const Curve& curve, const CurveEstimate& estimate, const std::string& id) {
  double out = 0.0;
  if (const auto own = estimate.causes.find(id); own != estimate.causes.end()) out += own->second;
  if (const auto cause = curve.causes.find(id);
      cause != curve.causes.end() && cause->second.kind == CauseKind::coherent)
    out += estimate.influence.dot(cause->second.u);
  return out;
}

double covariance(const Curve& curve_a, const CurveEstimate& a, const Curve& curve_b, const CurveEstimate& b) {
  double out = covariance_of_summaries(a.influence, curve_a, b.influence, curve_b);
  // covariance_of_summaries knows the parts through the curves; own causes meet own causes and those parts.
  const auto through = [](const Curve& curve, const CurveEstimate& e, const std::string& id) {
    const auto cause = curve.causes.find(id);
    return cause != curve.causes.end() && cause->second.kind == CauseKind::coherent ? e.influence.dot(cause->second.u)
                                                                                    : 0.0;
  };
  for (const auto& [id, sd] : a.causes) out += sd * effect(curve_b, b, id);
  for (const auto& [id, sd] : b.causes) out += through(curve_a, a, id) * sd;
  return out;
}

CurveEstimate ratio(const Curve& curve, const CurveEstimate& a, const CurveEstimate& b) {
  const double value = a.value / b.value;
  std::map<std::string, double> causes;
  for (const auto& [id, sd] : a.causes) causes[id] += sd / b.value;
  for (const auto& [id, sd] : b.causes) causes[id] -= value * sd / b.value;
  return estimate_from(curve, value, (a.influence - value * b.influence) / b.value, std::move(causes),
                       larger_guess(a, b));
}

}  // namespace sievelight
