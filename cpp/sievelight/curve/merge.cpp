// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/merge.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/merge_fit.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double same_edge = 1e-9;  // rounding of a file's digits, not physics

bool has_bins(const Curve& c) { return c.q_low_per_nm.size() == c.size(); }
double lower(const Curve& c, Index i) { return has_bins(c) ? c.q_low_per_nm[i] : c.q_per_nm[i]; }
double upper(const Curve& c, Index i) { return has_bins(c) ? c.q_high_per_nm[i] : c.q_per_nm[i]; }

void require_neighbours(const Curve& low, const Curve& high, const std::string& id) {
  check(low);
  check(high);
  if (low.size() == 0 || high.size() == 0) throw InputError("one of the curves is empty.", "Give both.");
  if (low.unit != high.unit)
    throw InputError(fmt::format("the curves have different units ({} and {}).", name(low.unit), name(high.unit)),
                     "Bring both to absolute units first, or neither.");
  if (low.has_slit() != high.has_slit())
    throw InputError("one curve was measured with a slit and the other with a pinhole.",
                     "Merge curves of one collimation only.");
  const double a = low.q_per_nm[0], b = low.q_per_nm[low.size() - 1];
  const double c = high.q_per_nm[0], d = high.q_per_nm[high.size() - 1];
  if (!(a < c && b < d))
    throw InputError(
        fmt::format("the low curve reaches from {:.4g} to {:.4g} 1/nm, the high one from {:.4g} to {:.4g}.", a, b, c,
                    d),
        "Give the curve of the longer camera first; each must reach beyond the other.");
  for (const auto* curve : {&low, &high})
    if (curve->causes.contains(id))
      throw InputError(fmt::format("a curve already carries the cause '{}'.", id), "Give this merge another name.");
  for (const auto& [cause_id, cause] : low.causes)
    if (const auto other = high.causes.find(cause_id); other != high.causes.end())
      require_same_kind(cause_id, cause, other->second);
}

std::vector<Index> points_within(const Curve& c, const Range& range) {
  std::vector<Index> out;
  for (Index i = 0; i < c.size(); ++i)
    if (lower(c, i) >= range.low * (1 - same_edge) && upper(c, i) <= range.high * (1 + same_edge)) out.push_back(i);
  return out;
}

// A point that is low by chance has a small variance of counts: the relative variance, averaged over neighbours, times
// the smooth intensity does not follow it.
VectorXd smooth_variance(const Curve& c) {
  const VectorXd u = pointwise_u(c);
  const Index n = c.size(), half = 5;
  VectorXd out(n);
  for (Index i = 0; i < n; ++i) {
    const Index first = std::max<Index>(0, i - half), count = std::min<Index>(n - 1, i + half) - first + 1;
    out[i] = u.segment(first, count).squaredNorm() / static_cast<double>(count);
  }
  return out;
}

// How a slit changes with the camera length is not folded into the common curve, so it must not change.
void require_one_slit(const Curve& low, const Curve& high) {
  if (!low.has_slit()) return;
  const double a = low.slit_length_per_nm.tail(1)[0], b = high.slit_length_per_nm[0];
  if (std::abs(a - b) > 0.01 * std::max(a, b))
    throw InputError(
        fmt::format("the slit is {:.4g} 1/nm long in the low curve and {:.4g} 1/nm in the high one.", a, b),
        "Slit curves of different camera lengths have different shapes: fit them together, do not merge them.");
}

// The fitted ratio as a factor of the scaled curve, with every cause that moves it.
Factor scale_factor(const CommonFit& fit, const Curve& low, const Curve& high, const MergeOptions& o,
                    const std::string& id) {
  const double sign = o.scaled == MergeSide::high ? -1.0 : 1.0;
  Factor out{std::exp(sign * fit.log_ratio), {}};
  const VectorXd a = sign * out.value * fit.influence.head(low.size());
  const VectorXd b = sign * out.value * fit.influence.tail(high.size());
  double counts = a.cwiseProduct(low.private_u).squaredNorm() + b.cwiseProduct(high.private_u).squaredNorm();
  const bool same = same_bins(low, high);
  for (const auto& [cause_id, cause] : low.causes) {
    if (cause.kind == CauseKind::coherent)
      out.causes[cause_id] += a.dot(cause.u);
    else
      counts += a.cwiseProduct(cause.u).squaredNorm();
  }
  for (const auto& [cause_id, cause] : high.causes) {
    if (cause.kind == CauseKind::coherent) {
      out.causes[cause_id] += b.dot(cause.u);
      continue;
    }
    counts += b.cwiseProduct(cause.u).squaredNorm();
    const auto twin = low.causes.find(cause_id);
    // On equal bins the two have the same random numbers, on others not.
    if (same && twin != low.causes.end()) counts += 2 * a.cwiseProduct(twin->second.u).dot(b.cwiseProduct(cause.u));
  }
  if (counts > 0) out.causes[id] = std::sqrt(counts);
  return out;
}

// Covariance of the points of both curves, one after the other.
MatrixXd joint_covariance(const Curve& low, const Curve& high) {
  const Index n = low.size(), m = high.size();
  MatrixXd out(n + m, n + m);
  out.topLeftCorner(n, n) = covariance(low);
  out.bottomRightCorner(m, m) = covariance(high);
  MatrixXd cross = MatrixXd::Zero(n, m);
  const bool same = same_bins(low, high);
  for (const auto& [id, cause] : low.causes) {
    const auto other = high.causes.find(id);
    if (other == high.causes.end()) continue;
    if (cause.kind == CauseKind::coherent)
      cross += cause.u * other->second.u.transpose();
    else if (same)
      cross.diagonal() += cause.u.cwiseProduct(other->second.u);
  }
  out.topRightCorner(n, m) = cross;
  out.bottomLeftCorner(m, n) = cross.transpose();
  return out;
}

void judge_agreement(const CommonFit& fit, const Curve& low, const Curve& high, Merged& out) {
  const Index n = low.size() + high.size();
  VectorXd residual(n);
  residual << low.intensity, high.intensity;
  residual -= fit.model;
  out.degrees_of_freedom = static_cast<int>(n - fit.jacobian.cols());
  const Eigen::LLT<MatrixXd> c(joint_covariance(low, high));
  if (c.info() != Eigen::Success || out.degrees_of_freedom < 1) {
    out.chi2 = out.p_value = std::numeric_limits<double>::quiet_NaN();
    out.notes.push_back("the agreement of the curves is not judged: points lack an uncertainty");
    return;
  }
  // The best of the common curves with this covariance, one linear step from the fit with weights of counts alone.
  const VectorXd r = c.matrixL().solve(residual);
  const MatrixXd j = c.matrixL().solve(fit.jacobian);
  out.chi2 = (r - j * j.completeOrthogonalDecomposition().solve(r)).squaredNorm();
  out.p_value = gsl_cdf_chisq_Q(out.chi2, out.degrees_of_freedom);
  // One in a thousand good pairs is warned about by chance.
  if (out.p_value < 1e-3)
    out.warnings.push_back(fmt::format(
        "the curves differ in shape where they overlap ({:.3g} to {:.3g} 1/nm): chi2 {:.3g} for {} degrees of freedom; "
        "check the backgrounds, the mask near the beamstop and the calibration of both, or leave out the points",
        out.overlap_per_nm.low, out.overlap_per_nm.high, out.chi2, out.degrees_of_freedom));
}

// The cut with the largest sum of what each kept point is worth.
double best_cut(const Curve& low, const Curve& high, const VectorXd& worth_low, const VectorXd& worth_high) {
  double best = low.q_per_nm[0], best_worth = -1;
  const double begin = lower(low, 0);
  for (Index k = -1; k < low.size(); ++k) {
    const double cut = k < 0 ? begin * (1 - same_edge) : upper(low, k);
    double worth = k < 0 ? 0.0 : worth_low.head(k + 1).sum();
    for (Index j = 0; j < high.size(); ++j)
      if (lower(high, j) >= cut * (1 - same_edge)) worth += worth_high[j];
    if (worth > best_worth) {
      best_worth = worth;
      best = cut;
    }
  }
  return best;
}

double choose_cut(const Curve& low, const Curve& high, const CommonFit& fit, const VectorXd& variance, bool noisy,
                  const MergeOptions& o, Merged& out) {
  if (o.q_cut_per_nm) {
    if (!out.overlap_per_nm.contains(*o.q_cut_per_nm))
      throw InputError(fmt::format("the cut at {:.4g} 1/nm lies outside the overlap, {:.4g} to {:.4g} 1/nm.",
                                   *o.q_cut_per_nm, out.overlap_per_nm.low, out.overlap_per_nm.high),
                       "Cut inside the overlap, or leave the cut to the rule.");
    return *o.q_cut_per_nm;
  }
  if (o.keep == MergeRule::better_resolution) {
    const auto worth = [](const Curve& c) -> VectorXd {
      if (c.q_resolution_per_nm.size() == 0 || !(c.q_resolution_per_nm.array() > 0).all())
        throw InputError("a curve has no q resolution, so the sharper one is not known.",
                         "Keep by 'smaller error', or reduce both with the beam's size.");
      return c.q_resolution_per_nm.cwiseAbs2().cwiseInverse();
    };
    return best_cut(low, high, worth(low), worth(high));
  }
  if (!noisy) {
    out.notes.push_back("without uncertainties of both curves, the cut is in the middle of the overlap");
    return std::sqrt(out.overlap_per_nm.low * out.overlap_per_nm.high);
  }
  const VectorXd worth = fit.model.array().square() / variance.array();
  return best_cut(low, high, worth.head(low.size()), worth.tail(high.size()));
}

Curve join(const Curve& low, const Curve& high, std::vector<std::string>& notes) {
  const Index n = low.size(), m = high.size();
  const auto both = [&](const VectorXd& a, const VectorXd& b) {
    VectorXd out(n + m);
    out << a, b;
    return out;
  };
  Curve out;
  out.unit = low.unit;
  out.q_per_nm = both(low.q_per_nm, high.q_per_nm);
  out.intensity = both(low.intensity, high.intensity);
  out.private_u = both(low.private_u, high.private_u);
  for (const auto& [member, what] : {std::pair{&Curve::q_low_per_nm, "bin edges"},
                                     {&Curve::q_high_per_nm, ""},
                                     {&Curve::q_resolution_per_nm, "q resolution"},
                                     {&Curve::slit_length_per_nm, ""},
                                     {&Curve::slit_width_per_nm, ""}}) {
    if ((low.*member).size() == n && (high.*member).size() == m)
      out.*member = both(low.*member, high.*member);
    else if (*what != 0 && ((low.*member).size() == n || (high.*member).size() == m))
      notes.push_back(fmt::format("only one of the curves has its {}; the merged curve has none", what));
  }
  for (const auto* part : {&low, &high})
    for (const auto& [id, cause] : part->causes) out.causes.try_emplace(id, Cause{cause.kind, VectorXd::Zero(n + m)});
  for (auto& [id, cause] : out.causes) {
    if (const auto a = low.causes.find(id); a != low.causes.end()) cause.u.head(n) = a->second.u;
    if (const auto b = high.causes.find(id); b != high.causes.end()) cause.u.tail(m) = b->second.u;
  }
  return out;
}

}  // namespace

Merged merge(const Curve& low, const Curve& high, const MergeOptions& o) {
  const std::string id = "merge scale: " + o.name;
  require_neighbours(low, high, id);
  require_one_slit(low, high);
  Merged out;
  const Range wanted = o.q_range_per_nm.value_or(Range{});
  out.overlap_per_nm = {std::max(lower(high, 0), wanted.low), std::min(upper(low, low.size() - 1), wanted.high)};
  const Curve a = pick(low, points_within(low, out.overlap_per_nm));
  const Curve b = pick(high, points_within(high, out.overlap_per_nm));
  out.points_low = static_cast<int>(a.size());
  out.points_high = static_cast<int>(b.size());
  if (a.size() < 3 || b.size() < 3)
    throw InputError(
        fmt::format("{} points of the low curve and {} of the high one lie in the overlap; three of each are needed.",
                    a.size(), b.size()),
        fmt::format("The low curve ends at {:.4g} 1/nm, the high one begins at {:.4g} 1/nm: choose camera lengths or "
                    "bins so that they overlap.",
                    upper(low, low.size() - 1), lower(high, 0)));
  const bool blurs = a.q_resolution_per_nm.size() > 0, blur = blurs && b.q_resolution_per_nm.size() > 0;

  VectorXd variance(a.size() + b.size());
  variance << smooth_variance(a), smooth_variance(b);
  const bool noisy = (variance.array() > 0).all();
  // Without uncertainties all points count alike, relative to their intensity; 1e-6 only says how close the common
  // curve must come before it is good enough.
  if (!noisy) {
    variance << a.intensity, b.intensity;
    variance = (1e-6 * variance.array()).square().max(std::numeric_limits<double>::min());
  }
  std::optional<double> log_ratio;
  if (o.scale) {
    if (!(o.scale->value > 0))
      throw InputError(fmt::format("the scale is {}; it must be positive.", o.scale->value), "Give a positive scale.");
    log_ratio = (o.scaled == MergeSide::high ? -1 : 1) * std::log(o.scale->value);
  }
  const CommonFit fit = fit_common_curve(a, b, variance, log_ratio, blur);
  out.scale = o.scale ? *o.scale : scale_factor(fit, a, b, o, id);
  for (const auto& [cause_id, u] : out.scale.causes) out.scale_u = std::hypot(out.scale_u, u);
  judge_agreement(fit, a, b, out);
  if (!o.scale && low.unit != IntensityUnit::relative && out.scale_u > 0 &&
      std::abs(out.scale.value - 1) > 3 * out.scale_u)
    out.warnings.push_back(fmt::format(
        "both curves are absolute, yet the scale is {:.5g} with a standard uncertainty of {:.2g}: thickness, "
        "transmission or the absolute scale of one of them is off by more than its uncertainty",
        out.scale.value, out.scale_u));

  out.q_cut_per_nm = choose_cut(a, b, fit, variance, noisy, o, out);
  std::vector<Index> keep_low, keep_high;
  for (Index i = 0; i < low.size(); ++i)
    if (upper(low, i) <= out.q_cut_per_nm * (1 + same_edge)) keep_low.push_back(i);
  for (Index i = 0; i < high.size(); ++i)
    if (lower(high, i) >= out.q_cut_per_nm * (1 - same_edge) &&
        (keep_low.empty() || high.q_per_nm[i] > low.q_per_nm[keep_low.back()] * (1 + same_edge)))
      keep_high.push_back(i);
  Curve below = pick(low, keep_low), above = pick(high, keep_high);
  Curve& scaled = o.scaled == MergeSide::high ? above : below;
  scaled = scale(scaled, out.scale);
  out.curve = join(below, above, out.notes);
  check(out.curve);
  return out;
}

}  // namespace sievelight
