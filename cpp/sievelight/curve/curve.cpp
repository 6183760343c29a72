// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/curve.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

namespace sievelight {

void check(const Curve& curve) {
  const Eigen::Index n = curve.size();
  const auto same_size = [&](const Eigen::VectorXd& v, const char* what, bool may_be_empty) {
    if (v.size() != n && !(may_be_empty && v.size() == 0))
      throw InputError(fmt::format("{} has {} points but q has {}.", what, v.size(), n),
                       "Give one value for every q; check that no column of the file was cut short.");
  };
  same_size(curve.intensity, "the intensity", false);
  same_size(curve.private_u, "the private uncertainty", false);
  same_size(curve.q_low_per_nm, "the lower bin edges", true);
  same_size(curve.q_high_per_nm, "the upper bin edges", true);
  same_size(curve.q_resolution_per_nm, "the q resolution", true);
  for (const auto& [id, cause] : curve.causes) same_size(cause.u, fmt::format("the cause '{}'", id).c_str(), false);
  for (Eigen::Index i = 0; i < n; ++i) {
    if (!std::isfinite(curve.q_per_nm[i]) || curve.q_per_nm[i] <= 0)
      throw InputError(fmt::format("q is {} at point {}; it must be positive and finite.", curve.q_per_nm[i], i),
                       "Remove the points inside the beamstop and those without a q.");
    if (i > 0 && curve.q_per_nm[i] <= curve.q_per_nm[i - 1])
      throw InputError(
          fmt::format("q does not rise: point {} has {} after {} 1/nm.", i, curve.q_per_nm[i], curve.q_per_nm[i - 1]),
          "Sort the points by q and merge those of equal q.");
    if (!(curve.private_u[i] >= 0))
      throw InputError(fmt::format("the uncertainty is {} at q = {} 1/nm; it must be zero or more.", curve.private_u[i],
                                   curve.q_per_nm[i]),
                       "Remove the point, or give its standard uncertainty.");
  }
}

Eigen::VectorXd pointwise_u(const Curve& curve) {
  Eigen::VectorXd variance = curve.private_u.array().square();
  for (const auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::pointwise) variance.array() += cause.u.array().square();
  return variance.array().sqrt();
}

Eigen::VectorXd total_u(const Curve& curve) {
  Eigen::VectorXd variance = pointwise_u(curve).array().square();
  for (const auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::coherent) variance.array() += cause.u.array().square();
  return variance.array().sqrt();
}

Eigen::MatrixXd covariance(const Curve& curve) {
  Eigen::MatrixXd total = pointwise_u(curve).array().square().matrix().asDiagonal();
  for (const auto& [id, cause] : curve.causes)
    if (cause.kind == CauseKind::coherent) total += cause.u * cause.u.transpose();
  return total;
}

Eigen::MatrixXd covariance(const Curve& a, const Curve& b) {
  Eigen::MatrixXd total = Eigen::MatrixXd::Zero(a.size(), b.size());
  for (const auto& [id, cause] : a.causes) {
    const auto other = b.causes.find(id);
    if (other == b.causes.end()) continue;
    if (other->second.kind != cause.kind)
      throw InputError(fmt::format("the cause '{}' is {} in one curve and {} in the other.", id, name(cause.kind),
                                   name(other->second.kind)),
                       "Reduce both curves in one study, so that a cause means the same in both.");
    if (cause.kind == CauseKind::coherent) {
      total += cause.u * other->second.u.transpose();
      continue;
    }
    if (a.q_per_nm != b.q_per_nm)
      throw InputError(fmt::format("the curves share the pointwise cause '{}' but not their q bins.", id),
                       "Reduce both curves onto the same q bins before comparing them.");
    total.diagonal().array() += cause.u.array() * other->second.u.array();
  }
  return total;
}

const char* name(IntensityUnit unit) {
  switch (unit) {
    case IntensityUnit::per_cm:
      return "1/cm";
    case IntensityUnit::cm2_per_g:
      return "cm2/g";
    case IntensityUnit::relative:
      break;
  }
  return "relative";
}

const char* name(CauseKind kind) { return kind == CauseKind::coherent ? "coherent" : "pointwise"; }

}  // namespace sievelight
