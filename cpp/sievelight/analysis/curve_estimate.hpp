// SPDX-License-Identifier: GPL-3.0-or-later
/// A number found from a curve, with everything needed to say how sure it is and with what it moves together.
/// influence J = d value / d intensity_i on the curve's own points (zero where a point has no say). Then
///   u^2 = J^T C J + sum of own causes^2,  C the curve's full covariance (private, pointwise and coherent causes),
/// and the covariance with a result of another curve is J_a^T C_ab J_b plus own causes of the same id, so an error that
/// both share cancels in their difference. Fits take their weights from the pointwise part only: a coherent cause moves
/// all points together and is no noise of a point.
/// Source: linear propagation of uncertainty with correlated inputs, JCGM 100:2008 (GUM) 5.2.2.
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/curve/curve.hpp"

#include <Eigen/Core>
#include <map>
#include <string>

namespace sievelight {

struct CurveEstimate : Estimate {
  Eigen::VectorXd influence;             // (n) d value / d intensity_i
  std::map<std::string, double> causes;  // id -> signed sd of errors that do not come with the curve (a density, ...)
};

/// The estimate with u from the curve's full covariance and the own causes; bands are normal.
CurveEstimate estimate_from(const Curve& curve, double value, Eigen::VectorXd influence,
                            std::map<std::string, double> causes = {});

/// The same with `point_variance` (n) in place of the curve's pointwise variance, for curves that come without one.
CurveEstimate estimate_from(const Curve& curve, const Eigen::VectorXd& point_variance, double value,
                            Eigen::VectorXd influence, std::map<std::string, double> causes = {});

/// factor * estimate, influence and causes too.
CurveEstimate scaled(const CurveEstimate& estimate, double factor);

}  // namespace sievelight
