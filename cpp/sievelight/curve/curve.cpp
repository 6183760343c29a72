// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/curve.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/shared_points.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

// Tolerance of "identical bins": rounding of a file's digits, not physics.
constexpr double same_q = 1e-9;
// The same for slit sizes, which files give with fewer digits.
constexpr double same_size_of_slit = 1e-6;
// Beyond these, squares and fourth powers leave the range of doubles, and what follows would be infinite without a
// word.
constexpr double most_intensity = 1e150, least_q = 1e-60, most_q = 1e60;

}  // namespace

bool same_bins(const Curve& a, const Curve& b) {
  return a.size() == b.size() && ((a.q_per_nm - b.q_per_nm).array().abs() <= same_q * a.q_per_nm.array()).all();
}

void require_same_kind(const std::string& id, const Cause& a, const Cause& b) {
  if (a.kind != b.kind)
    throw InputError(
        fmt::format("the cause '{}' is {} in one curve and {} in the other.", id, name(a.kind), name(b.kind)),
        "Reduce both curves in one study, so that a cause means the same in both.");
}

void require_same_slit(const Curve& a, const Curve& b) {
  const auto agree = [](const Eigen::VectorXd& u, const Eigen::VectorXd& v) {
    return u.size() == v.size() && ((u - v).array().abs() <= same_size_of_slit * u.array().abs()).all();
  };
  if (a.has_slit() != b.has_slit())
    throw InputError("one curve was measured with a slit and the other with a pinhole.",
                     "Compare curves of one collimation, or fold the slit into what is fitted to each.");
  if (!agree(a.slit_length_per_nm, b.slit_length_per_nm) || !agree(a.slit_width_per_nm, b.slit_width_per_nm))
    throw InputError("the curves were measured with slits of different length or width.",
                     "Subtract and add curves of one collimation only.");
}

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
  same_size(curve.slit_length_per_nm, "the slit length", true);
  same_size(curve.slit_width_per_nm, "the slit width", true);
  if (curve.slit_length_per_nm.size() != curve.slit_width_per_nm.size())
    throw InputError(fmt::format("there are {} slit lengths and {} slit widths.", curve.slit_length_per_nm.size(),
                                 curve.slit_width_per_nm.size()),
                     "Give both for a slit (a width of 0 where it is negligible), or none for a pinhole.");
  if (curve.q_low_per_nm.size() != curve.q_high_per_nm.size())
    throw InputError(fmt::format("there are {} lower and {} upper bin edges.", curve.q_low_per_nm.size(),
                                 curve.q_high_per_nm.size()),
                     "Give both edges of every bin, or none.");
  for (const auto& [id, cause] : curve.causes) same_size(cause.u, fmt::format("the cause '{}'", id).c_str(), false);
  for (Eigen::Index i = 0; i < n; ++i) {
    if (!std::isfinite(curve.q_per_nm[i]) || curve.q_per_nm[i] <= 0)
      throw InputError(fmt::format("q is {} at point {}; it must be positive and finite.", curve.q_per_nm[i], i),
                       "Remove the points inside the beamstop and those without a q.");
    if (curve.q_per_nm[i] < least_q || curve.q_per_nm[i] > most_q)
      throw InputError(fmt::format("q is {} 1/nm at point {}.", curve.q_per_nm[i], i), "Check the unit of q.");
    if (i > 0 && curve.q_per_nm[i] <= curve.q_per_nm[i - 1])
      throw InputError(
          fmt::format("q does not rise: point {} has {} after {} 1/nm.", i, curve.q_per_nm[i], curve.q_per_nm[i - 1]),
          "Sort the points by q and merge those of equal q.");
    if (!std::isfinite(curve.intensity[i]))
      throw InputError(
          fmt::format("the intensity is {} at q = {} 1/nm; it must be finite.", curve.intensity[i], curve.q_per_nm[i]),
          "Leave out bins without counts.");
    if (std::abs(curve.intensity[i]) > most_intensity || curve.private_u[i] > most_intensity)
      throw InputError(fmt::format("the intensity is {} with the uncertainty {} at q = {} 1/nm, beyond {}.",
                                   curve.intensity[i], curve.private_u[i], curve.q_per_nm[i], most_intensity),
                       "Check the unit of the intensity.");
    if (!(curve.private_u[i] >= 0) || !std::isfinite(curve.private_u[i]))
      throw InputError(fmt::format("the uncertainty is {} at q = {} 1/nm; it must be zero or more.", curve.private_u[i],
                                   curve.q_per_nm[i]),
                       "Remove the point, or give its standard uncertainty.");
    for (const auto& [id, cause] : curve.causes)
      if (!std::isfinite(cause.u[i]) || std::abs(cause.u[i]) > most_intensity)
        throw InputError(fmt::format("the cause '{}' is {} at q = {} 1/nm.", id, cause.u[i], curve.q_per_nm[i]),
                         "Give its standard deviation there; 0 where it has no effect.");
    for (const auto* size : {&curve.slit_length_per_nm, &curve.slit_width_per_nm})
      if (size->size() == n && (!((*size)[i] >= 0) || !std::isfinite((*size)[i])))
        throw InputError(fmt::format("the slit's length or width is {} at q = {} 1/nm; it must be zero or more.",
                                     (*size)[i], curve.q_per_nm[i]),
                         "Leave both empty for a pinhole.");
    if (curve.q_resolution_per_nm.size() == n && !(curve.q_resolution_per_nm[i] >= 0))
      throw InputError(fmt::format("the q resolution is {} at q = {} 1/nm; it must be zero or more.",
                                   curve.q_resolution_per_nm[i], curve.q_per_nm[i]),
                       "Leave the resolution empty when it is not known.");
    if (curve.q_low_per_nm.size() == n && curve.q_high_per_nm.size() == n &&
        !(curve.q_low_per_nm[i] <= curve.q_per_nm[i] && curve.q_per_nm[i] <= curve.q_high_per_nm[i]))
      throw InputError(fmt::format("q = {} 1/nm lies outside its bin, {} to {} 1/nm.", curve.q_per_nm[i],
                                   curve.q_low_per_nm[i], curve.q_high_per_nm[i]),
                       "Check that the bin edges belong to these points.");
  }
}

void check_pinhole(const Curve& curve, std::string_view law) {
  check(curve);
  if (curve.has_slit())
    throw InputError(
        fmt::format("the curve was measured with a slit; {} would be wrong.", law),
        "Use the curve of a pinhole; empty the slit fields only where the slit is short against the least q.");
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
    require_same_kind(id, cause, other->second);
    if (cause.kind == CauseKind::coherent) {
      total += cause.u * other->second.u.transpose();
      continue;
    }
    const SharedPoints same = shared_points(id, a, b);
    for (std::size_t k = 0; k < same.in_a.size(); ++k)
      total(same.in_a[k], same.in_b[k]) += cause.u[same.in_a[k]] * other->second.u[same.in_b[k]];
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
