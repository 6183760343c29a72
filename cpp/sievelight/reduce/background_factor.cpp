// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/background_factor.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/reduce/common_bins.hpp"
#include "sievelight/reduce/local_fit.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

BackgroundFactor fit_background_factor(const Measured& sample, const Measured& background, Range range) {
  const auto transmitted = [](const Measured& m) {
    return m.transmission ? scale(m.curve, divide(Factor{}, *m.transmission)) : m.curve;
  };
  const auto [s_all, b_all] = on_common_bins(transmitted(sample), transmitted(background));
  const Curve s = crop(s_all, range.low, range.high), b = crop(b_all, range.low, range.high);
  if (s.size() != b.size() || s.q_per_nm != b.q_per_nm)
    throw InputError(fmt::format("'{}' and '{}' have different q.", sample.name, background.name),
                     "Average both onto the same bin edges.");
  if (!(b.intensity.sum() > 0))
    throw InputError(fmt::format("the background '{}' shows no intensity between {} and {} 1/nm.", background.name,
                                 range.low, range.high),
                     "Fit its factor where sample and background both scatter.");
  const VectorXd us = pointwise_u(s), ub = pointwise_u(b);
  // f = sum(w A) / sum(w B), w = B/variance from smoothed curves: least squares on B itself would be pulled down by the
  // noise of B, and weights from single points by the noise of their counts.
  const VectorXd vs = smooth_variance(us), vb = smooth_variance(ub), smooth_b = smooth(b.intensity);
  double f = s.intensity.sum() / b.intensity.sum();
  VectorXd a;
  for (int round = 0; round < 5; ++round) {  // the weights hold f, weakly: a few rounds settle it
    VectorXd w = smooth_b.cwiseQuotient(vs + f * f * vb);
    if (!w.allFinite()) w.setOnes();
    a = w / w.dot(b.intensity);
    f = a.dot(s.intensity);
  }
  BackgroundFactor out;
  out.factor.value = f;
  const VectorXd variance = us.array().square() + f * f * ub.array().square();
  if ((variance.array() > 0).all())
    out.chi2_per_point = ((s.intensity - f * b.intensity).array().square() / variance.array()).sum() /
                         std::max(1.0, static_cast<double>(s.size() - 1));
  // Where the two shapes differ by more than their counts allow, f depends on the range: its u is widened by the square
  // root of chi2 per point (R. T. Birge, Phys. Rev. 40 (1932) 207), as the sample's own part.
  const double widened = std::sqrt(std::max(0.0, out.chi2_per_point - 1));
  const double from_sample = a.cwiseProduct(us).norm(), from_background = std::abs(f) * a.cwiseProduct(ub).norm();
  out.factor.causes["background scale: " + background.name + " fitted to " + sample.name] =
      std::hypot(from_sample, widened * std::hypot(from_sample, from_background));
  out.factor.causes["background scale: " + background.name] = -from_background;
  for (const auto& [id, cause] : s.causes)
    if (cause.kind == CauseKind::coherent) out.factor.causes[id] += a.dot(cause.u);
  for (const auto& [id, cause] : b.causes)
    if (cause.kind == CauseKind::coherent) out.factor.causes[id] -= f * a.dot(cause.u);
  for (const auto& [id, u] : out.factor.causes) out.u = std::hypot(out.u, u);
  out.points = static_cast<int>(s.size());
  out.q_range_per_nm = {s.q_per_nm[0], s.q_per_nm[s.size() - 1]};
  out.note = fmt::format(
      "the factor of the background '{}' was fitted to '{}' between {:.4g} and {:.4g} 1/nm, where the "
      "sample is taken not to scatter: {:.5g} (u = {:.2g}); it was not measured",
      background.name, sample.name, out.q_range_per_nm.low, out.q_range_per_nm.high, f, out.u);
  if (out.chi2_per_point > 1 + 5 * std::sqrt(2.0 / static_cast<double>(s.size())))
    out.note += fmt::format("; their shapes differ there (chi2 per point {:.3g}), so u is widened by {:.3g}",
                            out.chi2_per_point, std::sqrt(out.chi2_per_point));
  return out;
}

OverSubtraction over_subtracted(const Curve& curve, int run) {
  if (run < 1) throw InputError(fmt::format("runs of {} bins were asked for.", run), "Give one or more.");
  OverSubtraction out;
  const Index n = curve.size();
  if (n == 0) return out;
  out.negative_share = static_cast<double>((curve.intensity.array() < 0).count()) / static_cast<double>(n);
  const Eigen::MatrixXd c = covariance(curve);
  int tried = 0;
  for (Index length = 1; length <= std::min<Index>(run, n); length *= 2)
    for (Index i = 0; i + length <= n; ++i) {
      const double variance = c.block(i, i, length, length).sum();
      if (!(variance > 0)) continue;
      ++tried;
      const double z = curve.intensity.segment(i, length).sum() / std::sqrt(variance);
      if (z < out.lowest_z) {
        out.lowest_z = z;
        out.q_range_per_nm = {curve.q_per_nm[i], curve.q_per_nm[i + length - 1]};
      }
    }
  out.significant = tried > 0 && out.lowest_z < gsl_cdf_ugaussian_Pinv(0.01 / tried);
  return out;
}

}  // namespace sievelight
