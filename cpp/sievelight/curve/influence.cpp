// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/influence.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/shared_points.hpp"

#include <fmt/format.h>

namespace sievelight {
namespace {

void require_size(const Eigen::VectorXd& influence, const Curve& curve) {
  if (influence.size() != curve.size())
    throw InputError(
        fmt::format("the influence has {} values but the curve has {} points.", influence.size(), curve.size()),
        "Give the derivative of the summary with respect to every intensity; 0 for points not used.");
}

}  // namespace

std::map<std::string, double> variance_by_cause(const Eigen::VectorXd& influence, const Curve& curve) {
  require_size(influence, curve);
  std::map<std::string, double> budget;
  budget["counts"] = influence.cwiseProduct(curve.private_u).squaredNorm();
  for (const auto& [id, cause] : curve.causes) {
    const double along = influence.dot(cause.u);
    budget[id] += cause.kind == CauseKind::coherent ? along * along : influence.cwiseProduct(cause.u).squaredNorm();
  }
  return budget;
}

double variance_of_summary(const Eigen::VectorXd& influence, const Curve& curve) {
  double total = 0;
  for (const auto& [id, variance] : variance_by_cause(influence, curve)) total += variance;
  return total;
}

double covariance_of_summaries(const Eigen::VectorXd& influence_a, const Curve& a, const Eigen::VectorXd& influence_b,
                               const Curve& b) {
  require_size(influence_a, a);
  require_size(influence_b, b);
  double total = 0;
  for (const auto& [id, cause] : a.causes) {
    const auto other = b.causes.find(id);
    if (other == b.causes.end()) continue;
    require_same_kind(id, cause, other->second);
    if (cause.kind == CauseKind::coherent) {
      total += influence_a.dot(cause.u) * influence_b.dot(other->second.u);
    } else {
      const SharedPoints same = shared_points(id, a, b);
      total += influence_a.cwiseProduct(cause.u)(same.in_a).dot(influence_b.cwiseProduct(other->second.u)(same.in_b));
    }
  }
  return total;
}

}  // namespace sievelight
