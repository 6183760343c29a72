// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/domain_size.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

// Slope of the own width on q over its u, weighted least squares.
double growth(const std::vector<CurvePeak>& peaks) {
  double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
  int used = 0;
  for (const CurvePeak& peak : peaks) {
    const double u = peak.own_fwhm_per_nm.u;
    if (peak.resolution_limited || !(u > 0.0)) continue;
    const double weight = 1.0 / (u * u), x = peak.q_per_nm.value, y = peak.own_fwhm_per_nm.value;
    w += weight, wx += weight * x, wy += weight * y, wxx += weight * x * x, wxy += weight * x * y;
    ++used;
  }
  const double determinant = w * wxx - wx * wx;
  if (used < 2 || !(determinant > 0.0)) return 0.0;
  return (w * wxy - wx * wy) / std::sqrt(w * determinant);
}

}  // namespace

DomainSize domain_size(const Curve& curve, const CurvePeaks& peaks, double scherrer_constant) {
  if (peaks.peaks.empty())
    throw InputError("there is no peak of order, so no domain has a size.",
                     "See set_aside for what was found and why it does not count.");
  if (!(scherrer_constant > 0.0) || !std::isfinite(scherrer_constant))
    throw InputError(fmt::format("the Scherrer constant is {}.", scherrer_constant),
                     "Give a positive number; 0.9 is usual.");
  DomainSize out;
  out.scherrer_constant = scherrer_constant;
  const auto relative_u = [&](std::size_t k) {
    const CurvePeak& p = peaks.peaks[k];
    return p.resolution_limited ? 1e3 + p.own_fwhm_limit_per_nm / p.blur_fwhm_per_nm
                                : p.own_fwhm_per_nm.u / p.own_fwhm_per_nm.value;
  };
  std::size_t best = 0;
  for (std::size_t k = 1; k < peaks.peaks.size(); ++k)
    if (relative_u(k) < relative_u(best)) best = k;
  const CurvePeak& peak = peaks.peaks[best];
  if (peak.q_per_nm.influence.size() != curve.size())
    throw InputError("the peaks do not belong to this curve.", "Search the peaks of the same curve.");
  out.peak = static_cast<int>(best);
  const double factor = 2.0 * pi * scherrer_constant, width = peak.own_fwhm_per_nm.value;
  out.lower_limit_nm = factor / peak.own_fwhm_limit_per_nm;
  if (!peak.resolution_limited) {
    const double slope = -factor / (width * width);
    std::map<std::string, double> causes;
    for (const auto& [id, sd] : peak.own_fwhm_per_nm.causes) causes[id] = slope * sd;
    out.domain_nm = estimate_from(curve, factor / width, slope * peak.own_fwhm_per_nm.influence, causes,
                                  peak.own_fwhm_per_nm.guessed_variance);
    out.periods = out.domain_nm->value * peak.q_per_nm.value / (2.0 * pi);
  } else {
    out.warnings.push_back(fmt::format(
        "The peak is as narrow as the instrument allows: domains are larger than {:.3g} nm (95 %), and that "
        "is all the width says.",
        out.lower_limit_nm));
  }
  if (!peak.resolution_known)
    out.warnings.push_back("The curve carries no q resolution: the domain is this size or larger.");
  out.width_growth_z = growth(peaks.peaks);
  if (out.width_growth_z > 3.0)
    out.warnings.push_back("Peaks widen with q: distortion adds to their width, and the domain is larger than this.");
  return out;
}

}  // namespace sievelight
