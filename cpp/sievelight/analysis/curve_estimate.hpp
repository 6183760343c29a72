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
  Eigen::VectorXd guessed_variance;  // (n) pointwise variance found from residuals, where the curve came without one
                                     // of its own; empty as a rule
};

/// A number that is linear in a curve's intensities, before its uncertainty is asked for.
struct CurveSum {
  double value = 0.0;
  Eigen::VectorXd influence;  // (n)
};

/// The estimate with u from the curve's full covariance and the own causes; bands are normal. `guessed_variance` (n)
/// takes the place of the curve's pointwise variance unless it is empty.
CurveEstimate estimate_from(const Curve& curve, double value, Eigen::VectorXd influence,
                            std::map<std::string, double> causes = {}, Eigen::VectorXd guessed_variance = {});

/// A number from elsewhere: no influence, no causes. InputError unless finite with u >= 0.
CurveEstimate estimate_without_curve(double value, double u);

/// The larger, point by point, of the guesses of two results; empty where neither has one.
Eigen::VectorXd larger_guess(const CurveEstimate& a, const CurveEstimate& b);

/// factor * estimate, influence and causes too.
CurveEstimate scaled(const CurveEstimate& estimate, double factor);
/// Covariance of results of two different curves: J_a^T C_ab J_b through the ids that the curves share, and own causes
/// of the same id.
double covariance(const Curve& curve_a, const CurveEstimate& a, const Curve& curve_b, const CurveEstimate& b);
/// What one standard deviation of the coherent cause `id` does to the result, through the curve and beside it; signed.
double effect(const Curve& curve, const CurveEstimate& estimate, const std::string& id);
/// a / b of one curve, to first order: what moves both cancels.
CurveEstimate ratio(const Curve& curve, const CurveEstimate& a, const CurveEstimate& b);

}  // namespace sievelight
