// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/arithmetic.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

void require_same_bins(const Curve& a, const Curve& b) {
  check(a);
  check(b);
  if (!same_bins(a, b))
    throw InputError(fmt::format("the curves have different q ({} and {} points).", a.size(), b.size()),
                     "Reduce both onto the same q bins, with the same mask and geometry.");
  if (a.unit != b.unit)
    throw InputError(fmt::format("the curves have different units ({} and {}).", name(a.unit), name(b.unit)),
                     "Bring both to absolute units first, or neither.");
  require_same_slit(a, b);
}

// a + sign * b: signed vectors per id first, squares later.
Curve combine(const Curve& a, const Curve& b, double sign) {
  require_same_bins(a, b);
  Curve out = a;
  out.intensity += sign * b.intensity;
  out.private_u = (a.private_u.array().square() + b.private_u.array().square()).sqrt();
  for (const auto& [id, cause] : b.causes) {
    auto [mine, fresh] = out.causes.try_emplace(id, Cause{cause.kind, Eigen::VectorXd::Zero(a.size())});
    if (!fresh) require_same_kind(id, mine->second, cause);
    mine->second.u += sign * cause.u;
  }
  return out;
}

Factor combine(const Factor& a, const Factor& b, double value, double da, double db) {
  Factor out{value, {}};
  for (const auto& [id, u] : a.causes) out.causes[id] += da * u;
  for (const auto& [id, u] : b.causes) out.causes[id] += db * u;
  return out;
}

}  // namespace

Curve add(const Curve& a, const Curve& b) { return combine(a, b, 1.0); }
Curve subtract(const Curve& a, const Curve& b) { return combine(a, b, -1.0); }

Curve scale(const Curve& curve, const Factor& k) {
  Curve out = curve;
  out.intensity *= k.value;
  out.private_u *= std::abs(k.value);
  for (auto& [id, cause] : out.causes) cause.u *= k.value;
  for (const auto& [id, u] : k.causes) {
    auto [mine, fresh] = out.causes.try_emplace(id, Cause{CauseKind::coherent, Eigen::VectorXd::Zero(curve.size())});
    if (mine->second.kind != CauseKind::coherent)
      throw InputError(fmt::format("the cause '{}' is pointwise in the curve and coherent in the factor.", id),
                       "Give each cause of error an id of its own.");
    mine->second.u += u * curve.intensity;
  }
  return out;
}

Factor multiply(const Factor& a, const Factor& b) { return combine(a, b, a.value * b.value, b.value, a.value); }

Factor divide(const Factor& a, const Factor& b) {
  if (b.value == 0.0) throw InputError("division by a factor of zero.", "Check the factor's origin.");
  return combine(a, b, a.value / b.value, 1.0 / b.value, -a.value / (b.value * b.value));
}

Curve share(const Curve& curve, const std::string& id) {
  if (curve.causes.contains(id))
    throw InputError(fmt::format("the curve already carries a cause '{}'.", id), "Choose another id.");
  Curve out = curve;
  out.causes[id] = {CauseKind::pointwise, curve.private_u};
  out.private_u.setZero();
  return out;
}

Curve pick(const Curve& curve, const std::vector<Eigen::Index>& points) {
  Curve out = curve;
  for (Eigen::VectorXd* v : {&out.q_per_nm, &out.intensity, &out.private_u, &out.q_low_per_nm, &out.q_high_per_nm,
                             &out.q_resolution_per_nm, &out.slit_length_per_nm, &out.slit_width_per_nm})
    if (v->size() > 0) *v = (*v)(points).eval();
  for (auto& [id, cause] : out.causes) cause.u = cause.u(points).eval();
  return out;
}

Curve crop(const Curve& curve, double q_low_per_nm, double q_high_per_nm) {
  std::vector<Eigen::Index> keep;
  for (Eigen::Index i = 0; i < curve.size(); ++i)
    if (curve.q_per_nm[i] >= q_low_per_nm && curve.q_per_nm[i] <= q_high_per_nm) keep.push_back(i);
  if (keep.empty())
    throw InputError(fmt::format("no point lies between q = {} and {} 1/nm.", q_low_per_nm, q_high_per_nm),
                     curve.size() == 0 ? "The curve is empty."
                                       : fmt::format("The curve reaches from {:.4g} to {:.4g} 1/nm.", curve.q_per_nm[0],
                                                     curve.q_per_nm[curve.size() - 1]));
  return pick(curve, keep);
}

Curve rebin(const Curve& curve, int group) {
  if (group < 1) throw InputError(fmt::format("cannot merge bins in groups of {}.", group), "Give 1 or more.");
  check(curve);
  const Eigen::Index n = curve.size(), m = (n + group - 1) / group;
  const bool bins = curve.q_low_per_nm.size() == n && n > 0;
  Eigen::VectorXd weight = Eigen::VectorXd::Ones(n);  // of a point in its group; groups sum to 1
  if (bins) weight = curve.q_high_per_nm - curve.q_low_per_nm;
  for (Eigen::Index j = 0; j < m; ++j) {
    auto part = weight.segment(j * group, std::min<Eigen::Index>(group, n - j * group));
    if (!(part.sum() > 0))
      throw InputError(fmt::format("the bins at q = {} 1/nm have no width.", curve.q_per_nm[j * group]),
                       "Give the true bin edges, or none.");
    part /= part.sum();
  }
  const auto sums = [&](const Eigen::VectorXd& v) -> Eigen::VectorXd {
    Eigen::VectorXd out(m);
    for (Eigen::Index j = 0; j < m; ++j)
      out[j] = v.segment(j * group, std::min<Eigen::Index>(group, n - j * group)).sum();
    return out;
  };
  const auto mean = [&](const Eigen::VectorXd& v) { return sums(weight.cwiseProduct(v)); };
  // Independent parts add in quadrature. A shared one keeps the sign it has in the group: without it, the errors of
  // a curve and of one it was subtracted from would no longer cancel.
  const auto quadrature = [&](const Eigen::VectorXd& v) -> Eigen::VectorXd {
    const Eigen::ArrayXd wv = weight.array() * v.array();
    const Eigen::ArrayXd size = sums(wv.square()).array().sqrt(), sign = sums(wv * wv.abs()).array();
    return (sign < 0).select(-size, size);
  };
  Curve out;
  out.unit = curve.unit;
  out.q_per_nm = mean(curve.q_per_nm);
  out.intensity = mean(curve.intensity);
  out.private_u = quadrature(curve.private_u);
  const auto rms = [&](const Eigen::VectorXd& v) -> Eigen::VectorXd {
    if (v.size() != n) return {};
    return mean(v.array().square()).array().sqrt();
  };
  out.q_resolution_per_nm = rms(curve.q_resolution_per_nm);
  out.slit_length_per_nm = rms(curve.slit_length_per_nm);
  out.slit_width_per_nm = rms(curve.slit_width_per_nm);
  for (const auto& [id, cause] : curve.causes)
    out.causes[id] = {cause.kind, cause.kind == CauseKind::coherent ? mean(cause.u) : quadrature(cause.u)};
  if (bins) {
    out.q_low_per_nm.resize(m);
    out.q_high_per_nm.resize(m);
    for (Eigen::Index j = 0; j < m; ++j) {
      out.q_low_per_nm[j] = curve.q_low_per_nm[j * group];
      out.q_high_per_nm[j] = curve.q_high_per_nm[std::min(n, (j + 1) * group) - 1];
    }
  }
  return out;
}

}  // namespace sievelight
