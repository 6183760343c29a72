// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_hypothesis.hpp"

#include "sievelight/base/units.hpp"

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

constexpr double missing_cost = 2.302585;  // ln 10
constexpr double beyond_cost = -1.203973;  // ln 0.3

/// Contrast of the seen rings nearest to a position on either side; the smaller one counts, 0 with none beyond.
struct Neighbours {
  double contrast = 0.0, half_width_px = 0.0;
};

Neighbours seen_beside(const std::vector<LinePeak>& peaks, const RingMatch& match, int order) {
  // Nearest seen order above and below; peaks of both sides of a strip serve alike.
  int above = 1 << 20, below = 0;
  for (const int k : match.order) {
    if (k > order) above = std::min(above, k);
    if (k > 0 && k < order) below = std::max(below, k);
  }
  Neighbours n;
  if (above == 1 << 20) return n;
  for (std::size_t i = 0; i < peaks.size(); ++i)
    if (match.order[i] == above || (below > 0 && match.order[i] == below)) {
      if (n.contrast == 0.0 || peaks[i].contrast < n.contrast) n.contrast = peaks[i].contrast;
      n.half_width_px = std::max(n.half_width_px, peaks[i].half_width_px);
    }
  return n;
}

}  // namespace

RingMatch match_rings(const std::vector<LinePeak>& peaks, const LineProfile& profile, const RingHypothesis& h) {
  RingMatch match;
  match.order.assign(peaks.size(), 0);
  double in_view = 0.0;
  for (Eigen::Index i = 0; i < profile.pixels.size(); ++i) in_view += profile.pixels[i] > 0.0 ? 1.0 : 0.0;
  const auto seen = [&](double position) {
    const auto i = static_cast<Eigen::Index>(std::floor(position));
    return position >= 0.0 && i < profile.pixels.size() && profile.pixels[i] > 0.0;
  };
  int n = 0;
  double first = 1e300;
  for (const PredictedRing& r : h.rings) {
    n += seen(r.position_px) ? 1 : 0;
    first = std::min(first, std::abs(r.position_px - h.center_px));
  }
  if (n == 0 || in_view <= 0.0) return match;
  double sum2 = 0.0;
  for (std::size_t i = 0; i < peaks.size(); ++i) {
    const LinePeak& p = peaks[i];
    const double radius = std::abs(p.position_px - h.center_px);
    if (radius > h.complete_to_px) {
      match.log_gain += beyond_cost;
      continue;
    }
    const double slack = std::sqrt(p.u_px * p.u_px + 1.0 + std::pow(0.003 * radius, 2));
    const double stray = radius < first - 3.0 * slack ? 0.5 : 0.05;
    double density = 0.0, nearest = 1e300;
    for (const PredictedRing& r : h.rings) {
      const double t = (p.position_px - r.position_px) / slack;
      if (std::abs(t) > 3.5) continue;
      density += std::exp(-0.5 * t * t) / (slack * std::sqrt(2.0 * pi));
      if (std::abs(t) < std::abs(nearest)) {
        nearest = t;
        match.order[i] = r.order;
      }
    }
    match.log_gain += std::log(stray + (1.0 - stray) * in_view * density / n);
    if (match.order[i] > 0) {
      ++match.matched;
      sum2 += nearest * nearest * slack * slack;
    } else {
      ++match.strays;
    }
  }
  if (match.matched > 0) match.rms_px = std::sqrt(sum2 / match.matched);
  for (const PredictedRing& r : h.rings) {
    if (!seen(r.position_px)) continue;
    const bool met = std::ranges::any_of(peaks, [&](const LinePeak& p) {
      return std::abs(p.position_px - r.position_px) <
             std::max(3.5 * p.u_px + 0.01 * std::abs(p.position_px - h.center_px), p.fwhm_px) + 2.0;
    });
    if (met) continue;
    const Neighbours beside = seen_beside(peaks, match, r.order);
    if (beside.contrast <= 0.0) continue;
    const LineContrast here = line_contrast(profile, r.position_px, beside.half_width_px, h.least_pixels);
    if (6.0 * here.noise < 0.25 * beside.contrast) {
      ++match.missing;
      match.log_gain -= missing_cost;
    }
  }
  return match;
}

}  // namespace sievelight
