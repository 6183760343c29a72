// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/absolute_scale.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/reduce/local_fit.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// The points whose bins lie inside the certified range, and the table's value for each.
std::pair<std::vector<Index>, VectorXd> overlap(const Curve& c, const IntensityStandard& s, const Range& limit) {
  const bool bins = c.q_low_per_nm.size() == c.size();
  const double low = std::max(s.q_per_nm[0], limit.low), high = std::min(s.q_per_nm[s.q_per_nm.size() - 1], limit.high);
  std::vector<Index> keep;
  std::vector<double> table;
  for (Index i = 0; i < c.size(); ++i) {
    const Range bin = bins ? Range{c.q_low_per_nm[i], c.q_high_per_nm[i]} : Range{c.q_per_nm[i], c.q_per_nm[i]};
    if (bin.low < low || bin.high > high) continue;
    keep.push_back(i);
    table.push_back(bins ? certified_mean_per_cm(s, c.q_per_nm[i], bin) : certified_intensity_per_cm(s, c.q_per_nm[i]));
  }
  return {keep, Eigen::Map<const VectorXd>(table.data(), static_cast<Index>(table.size()))};
}

// Slope of measured / table against ln q, times the span of ln q: a change across the range.
void find_trend(const VectorXd& q, const VectorXd& ratio, const VectorXd& variance, AbsoluteScale& out) {
  const Eigen::ArrayXd w = variance.array().inverse(), x = q.array().log();
  const double mean = (w * x).sum() / w.sum(), sxx = (w * (x - mean).square()).sum();
  const double span = x[x.size() - 1] - x[0];
  if (!(sxx > 0)) return;
  out.trend = span * (w * (x - mean) * ratio.array()).sum() / sxx;
  out.trend_u = span / std::sqrt(sxx);
}

}  // namespace

AbsoluteScale absolute_scale(const Curve& measured, const IntensityStandard& standard, const AbsoluteScaleOptions& o) {
  check(measured);
  const auto [keep, table] = overlap(measured, standard, o.q_range_per_nm);
  const Index n = table.size();
  if (n < 3)
    throw InputError(
        fmt::format("{} bins of the standard's curve lie in the certified range of {}; three are needed.", n,
                    standard.name),
        measured.size() == 0
            ? "The curve is empty."
            : fmt::format("The curve reaches from {:.4g} to {:.4g} 1/nm, the certificate from {:.4g} to {:.4g} 1/nm.",
                          measured.q_per_nm[0], measured.q_per_nm[measured.size() - 1], standard.q_per_nm[0],
                          standard.q_per_nm[standard.q_per_nm.size() - 1]));
  const VectorXd intensity = measured.intensity(keep), u = pointwise_u(measured)(keep);
  const bool noisy = (u.array() > 0).all();

  // The table has no point noise, the measurement has: fit g in I_measured = g I_table, then k = 1/g. Weights from
  // smoothed variances, because a point that is low by chance must not weigh more.
  VectorXd w = VectorXd::Ones(n);
  if (noisy) w = smooth_variance(u).cwiseInverse();
  const VectorXd a = w.cwiseProduct(table) / (w.array() * table.array().square()).sum();
  const double g = a.dot(intensity);
  if (!(g > 0) || !std::isfinite(g))
    throw InputError(fmt::format("the standard's intensity is {:.4g} times the certified one.", g),
                     "Check its background, transmission and the row's role: a standard must scatter.");
  const double k = 1 / g;

  AbsoluteScale out;
  out.factor.value = k;
  out.factor.causes["absolute scale: table"] = standard.relative_u * k;
  out.factor.causes["absolute scale: counts"] = a.cwiseProduct(u).norm() * k * k;
  for (const auto& [id, cause] : measured.causes)
    if (cause.kind == CauseKind::coherent) out.factor.causes[id] += -k * k * a.dot(VectorXd(cause.u(keep)));
  for (const auto& [id, uk] : out.factor.causes) out.u = std::hypot(out.u, uk);
  out.relative_u = out.u / k;
  out.points = static_cast<int>(n);
  out.q_per_nm = measured.q_per_nm(keep);
  out.q_range_per_nm = {out.q_per_nm[0], out.q_per_nm[n - 1]};
  out.ratio = k * intensity.cwiseQuotient(table);

  // Is the ratio flat?
  const VectorXd counts_only = (k * u.cwiseQuotient(table)).array().square();
  const VectorXd variance = counts_only.array() + o.shape_tolerance * o.shape_tolerance;
  const Eigen::ArrayXd residual = out.ratio.array() - 1;
  if (noisy) out.chi2_per_point = (residual.square() / counts_only.array()).sum() / static_cast<double>(n - 1);
  const double chi2 = (residual.square() / variance.array()).sum();
  find_trend(out.q_per_nm, out.ratio, variance, out);
  // One in a thousand good standards is warned about by chance.
  if (gsl_cdf_chisq_Q(chi2, static_cast<double>(n - 1)) < 1e-3)
    out.warnings.push_back(
        fmt::format("the standard's curve does not have the certified shape: chi2 per point {:.3g} with {:.1f} % "
                    "allowed besides the counts; check its background, mask and the geometry",
                    chi2 / static_cast<double>(n - 1), 100 * o.shape_tolerance));
  // Half a percent across the range is a fifth of the certificate's own uncertainty.
  if (std::abs(out.trend) > 3.3 * out.trend_u && std::abs(out.trend) > 0.005)
    out.warnings.push_back(
        fmt::format("measured over certified intensity changes by {:+.2f} % ({:.2f} %) from {:.3g} to "
                    "{:.3g} 1/nm; check its background and the solid angles",
                    100 * out.trend, 100 * out.trend_u, out.q_range_per_nm.low, out.q_range_per_nm.high));
  if (out.q_range_per_nm.high < 2 * out.q_range_per_nm.low)
    out.warnings.push_back(fmt::format("only {} bins from {:.3g} to {:.3g} 1/nm overlap the certified range", n,
                                       out.q_range_per_nm.low, out.q_range_per_nm.high));
  return out;
}

}  // namespace sievelight
