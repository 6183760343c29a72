// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_estimate.hpp"

#include <cmath>
#include <utility>

namespace sievelight {

CurveEstimate estimate_from(const Curve& curve, const Eigen::VectorXd& point_variance, double value,
                            Eigen::VectorXd influence, std::map<std::string, double> causes) {
  double variance = (influence.array().square() * point_variance.array()).sum();
  for (const auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::coherent) {
      const auto own = causes.find(id);  // an id that acts through the curve and beside it adds with its sign
      variance += std::pow(influence.dot(cause.u) + (own == causes.end() ? 0.0 : own->second), 2);
    }
  for (const auto& [id, sd] : causes) {
    const auto shared = curve.causes.find(id);
    if (shared == curve.causes.end() || shared->second.kind != CauseKind::coherent) variance += sd * sd;
  }
  return {Estimate::normal(value, std::sqrt(variance)), std::move(influence), std::move(causes)};
}

CurveEstimate estimate_from(const Curve& curve, double value, Eigen::VectorXd influence,
                            std::map<std::string, double> causes) {
  return estimate_from(curve, pointwise_u(curve).array().square().matrix(), value, std::move(influence),
                       std::move(causes));
}

CurveEstimate scaled(const CurveEstimate& estimate, double factor) {
  CurveEstimate out{Estimate::normal(factor * estimate.value, std::abs(factor) * estimate.u),
                    factor * estimate.influence, estimate.causes};
  for (auto& [id, sd] : out.causes) sd *= factor;
  return out;
}

}  // namespace sievelight
