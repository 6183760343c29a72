// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_share.hpp"

#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {

const char* name(PeakRole role) {
  return role == PeakRole::none ? "none" : role == PeakRole::disturb ? "disturb" : "carry";
}

PeakShare peak_share(const Curve& curve, const CurvePeaks& peaks, const PeakShareOptions& options) {
  if (peaks.fit.size() != curve.size())
    throw InputError("the peaks do not belong to this curve.", "Search the peaks of the same curve.");
  PeakShare out;
  const auto& q = curve.q_per_nm;
  double whole = 0.0, whole_q2 = 0.0;
  Eigen::VectorXd of_peaks = Eigen::VectorXd::Zero(curve.size());
  for (const CurvePeak& p : peaks.peaks)
    of_peaks.array() +=
        p.height.value * peak_shape((q.array() - p.q_per_nm.value) / p.fwhm_per_nm.value, p.lorentzian_share);
  for (Eigen::Index i = 0; i + 1 < curve.size(); ++i) {
    if (!peaks.q_range_per_nm.contains(q[i]) || !peaks.q_range_per_nm.contains(q[i + 1])) continue;
    const double step = 0.5 * (q[i + 1] - q[i]);
    whole += step * (curve.intensity[i] + curve.intensity[i + 1]);
    whole_q2 += step * (q[i] * q[i] * curve.intensity[i] + q[i + 1] * q[i + 1] * curve.intensity[i + 1]);
  }
  double areas = 0.0, areas_q2 = 0.0;
  for (const CurvePeak& p : peaks.peaks) {
    areas += p.area.value;
    areas_q2 += p.area.value * p.q_per_nm.value * p.q_per_nm.value;
    out.highest_contrast = std::max(out.highest_contrast, p.background > 0.0 ? p.height.value / p.background
                                                                             : std::numeric_limits<double>::infinity());
    const double reach = 1.5 * p.fwhm_per_nm.value;
    const Range window{p.q_per_nm.value - reach, p.q_per_nm.value + reach};
    if (!out.windows_per_nm.empty() && window.low <= out.windows_per_nm.back().high)
      out.windows_per_nm.back().high = std::max(out.windows_per_nm.back().high, window.high);
    else
      out.windows_per_nm.push_back(window);
  }
  out.intensity_share = whole > 0.0 ? areas / whole : 0.0;
  out.q2_share = whole_q2 > 0.0 ? areas_q2 / whole_q2 : 0.0;
  const PointWeights weights = point_weights(curve);
  const double points = static_cast<double>(
      std::count_if(q.data(), q.data() + q.size(), [&](double x) { return peaks.q_range_per_nm.contains(x); }));
  out.chi2_per_point = weights.known ? (of_peaks.array().square() / weights.smooth.array()).sum() / points
                                     : std::numeric_limits<double>::quiet_NaN();
  if (peaks.peaks.empty()) {
    out.words = "No peak of order stands above the smooth curve.";
    return out;
  }
  const bool high = out.highest_contrast >= options.carry_height;
  const double least = options.carry_share / (peaks.peaks.size() > 1 ? 30.0 : 2.0);
  const bool hold = out.q2_share >= least || !(whole_q2 > 0.0);
  out.role = (high && hold) || out.q2_share >= options.carry_share ? PeakRole::carry : PeakRole::disturb;
  const std::size_t n = peaks.peaks.size();
  out.words = fmt::format(
      "{} peak{} of order {} the curve: the highest is {:.2g} times its background, and they hold {:.1f} % of q^2 I.",
      n, n == 1 ? "" : "s",
      out.role == PeakRole::carry ? (n == 1 ? "carries" : "carry") : (n == 1 ? "disturbs" : "disturb"),
      out.highest_contrast, 100.0 * out.q2_share);
  return out;
}

}  // namespace sievelight
