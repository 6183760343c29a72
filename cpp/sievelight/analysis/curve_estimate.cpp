// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_estimate.hpp"

#include "sievelight/base/error.hpp"

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

}  // namespace sievelight
