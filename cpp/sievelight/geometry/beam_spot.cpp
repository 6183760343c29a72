// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/beam_spot.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/beam_center.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double fwhm_per_sigma = 2.354820045;
constexpr double pixel_variance = 1.0 / 12.0;

/// Visits the usable pixels between two radii; returns how many pixels of the frame there are, usable or not.
template <class Visit>
double for_ring(const Image& counts, double x, double y, double low, double high, const Visit& visit) {
  double all = 0.0;
  const auto first = [](double v) { return std::max<Index>(0, static_cast<Index>(std::floor(v))); };
  for (Index row = first(y - high); row < std::min(counts.rows(), first(y + high) + 2); ++row)
    for (Index column = first(x - high); column < std::min(counts.cols(), first(x + high) + 2); ++column) {
      const double dx = static_cast<double>(column) - x, dy = static_cast<double>(row) - y, r = std::hypot(dx, dy);
      if (r < low || r >= high) continue;
      all += 1.0;
      visit(row, column, dx, dy);
    }
  return all;
}

}  // namespace

BeamSpot beam_spot(const Image& counts, const Mask& masked, const BeamSpotOptions& options) {
  if (!(options.radius_px >= 0.0 && options.gap_px >= 0.0 && options.annulus_px > 0.0 &&
        options.saturation_value >= 0.0))
    throw InputError(fmt::format("beam spot: radius_px {}, gap_px {}, annulus_px {}, saturation_value {}",
                                 options.radius_px, options.gap_px, options.annulus_px, options.saturation_value),
                     "The annulus has a width above 0, the others are not negative.");
  const BeamCenter center = find_beam_center(counts, masked, {options.near_px, options.search_px});
  BeamSpot spot;
  spot.x_px = center.x_px;
  spot.y_px = center.y_px;
  const double width = std::max({center.sigma_x_px, center.sigma_y_px, 0.5});
  spot.radius_px = options.radius_px > 0.0 ? options.radius_px : std::max(3.0, 4.0 * width);

  const auto unusable = [&](Index row, Index column) {
    const double n = counts(row, column);
    return (masked.size() != 0 && masked(row, column)) || !std::isfinite(n) || n < 0.0 ||
           (options.saturation_value > 0.0 && n >= options.saturation_value);
  };
  double bad_core = 0.0, largest = 0.0;
  for_ring(counts, spot.x_px, spot.y_px, 0.0, 0.5 * fwhm_per_sigma * width + 0.5,
           [&](Index row, Index column, double, double) {
             bad_core += unusable(row, column) ? 1.0 : 0.0;
             largest = std::max(largest, counts(row, column));
           });
  if (bad_core > 0.0)
    throw DataError(fmt::format("beam spot: {:.0f} pixels of its core about ({:.1f}, {:.1f}) are saturated or masked "
                                "(largest count {:.0f}): its counts cannot be summed",
                                bad_core, spot.x_px, spot.y_px, largest),
                    "Measure the beam with a stronger attenuator or a shorter exposure, through the instrument's "
                    "interlocked procedure.");

  double ring = 0.0, ring_sum = 0.0;
  const double inner = spot.radius_px + options.gap_px;
  for_ring(counts, spot.x_px, spot.y_px, inner, inner + options.annulus_px,
           [&](Index row, Index column, double, double) {
             if (unusable(row, column)) return;
             ring += 1.0;
             ring_sum += counts(row, column);
           });
  if (ring < 8.0)
    throw DataError(
        fmt::format("beam spot: {:.0f} usable pixels between {:.1f} and {:.1f} px around ({:.1f}, {:.1f}): no "
                    "background",
                    ring, inner, inner + options.annulus_px, spot.x_px, spot.y_px),
        "Choose another radius, gap or annulus, inside the frame and the mask.");
  spot.background = ring_sum / ring;

  double n = 0.0, sum = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, syy = 0.0, bad = 0.0;
  const double all =
      for_ring(counts, spot.x_px, spot.y_px, 0.0, spot.radius_px, [&](Index row, Index column, double dx, double dy) {
        if (unusable(row, column)) {
          bad += 1.0;
          return;
        }
        const double above = counts(row, column) - spot.background;
        n += 1.0;
        sum += counts(row, column);
        sx += above * dx;
        sy += above * dy;
        sxx += above * dx * dx;
        syy += above * dy * dy;
      });
  spot.counts = sum - n * spot.background;
  spot.u_counts = std::sqrt(sum + n * n * spot.background / ring);
  if (!(spot.counts > 5.0 * spot.u_counts))
    throw DataError(
        fmt::format("beam spot: {:.1f} counts above the background within {:.1f} px of ({:.1f}, {:.1f}), with "
                    "a standard deviation of {:.1f}",
                    spot.counts, spot.radius_px, spot.x_px, spot.y_px, spot.u_counts),
        "Check that this exposure shows the direct beam and that the circle fits the spot.");
  const double mx = sx / spot.counts, my = sy / spot.counts;
  const double vx = sxx / spot.counts - mx * mx, vy = syy / spot.counts - my * my;
  spot.x_px += mx;
  spot.y_px += my;
  double cxx = 0.0, cxy = 0.0, cyy = 0.0, wx = 0.0, wy = 0.0;
  for_ring(counts, center.x_px, center.y_px, 0.0, spot.radius_px, [&](Index row, Index column, double dx, double dy) {
    if (unusable(row, column)) return;
    const double x = dx - mx, y = dy - my;
    // The background's mean errs too: each pixel's share of its variance is b/m of the whole circle, which has no first
    // moment and counts little in the second.
    const double variance = counts(row, column);
    cxx += x * x * variance;
    cxy += x * y * variance;
    cyy += y * y * variance;
    wx += std::pow(x * x - vx, 2) * variance;
    wy += std::pow(y * y - vy, 2) * variance;
  });
  spot.covariance_px2 << cxx, cxy, cxy, cyy;
  spot.covariance_px2 /= spot.counts * spot.counts;
  // The circle's mean square minus the moment, times N u(b): what the background's error does to the moment.
  const double u_level = n * std::sqrt(spot.background / ring) / spot.counts,
               circle = 0.25 * spot.radius_px * spot.radius_px;
  const auto fwhm = [&](double moment, double scatter, double& u) {
    const double beam = moment - pixel_variance;
    const double u_moment = std::hypot(std::sqrt(scatter) / spot.counts, u_level * (circle - moment));
    if (!(beam > 0.0)) {
      u = fwhm_per_sigma * std::sqrt(std::max(u_moment, 0.0));
      return 0.0;
    }
    u = fwhm_per_sigma * 0.5 * u_moment / std::sqrt(beam);
    return fwhm_per_sigma * std::sqrt(beam);
  };
  spot.fwhm_x_px = fwhm(vx, wx, spot.u_fwhm_x_px);
  spot.fwhm_y_px = fwhm(vy, wy, spot.u_fwhm_y_px);
  if (bad > 0.0)
    spot.warnings.push_back(
        fmt::format("{:.0f} of {:.0f} pixels of the circle are masked or saturated: the sum is low", bad, all));
  if (spot.radius_px < 3.0 * std::sqrt(std::max(vx, vy)))
    spot.warnings.push_back(
        fmt::format("the circle of {:.1f} px is narrower than three times the spot's standard deviation ({:.2f} px): "
                    "the sum and the "
                    "size are low",
                    spot.radius_px, std::sqrt(std::max(vx, vy))));
  const double edge = std::min({spot.x_px, spot.y_px, static_cast<double>(counts.cols() - 1) - spot.x_px,
                                static_cast<double>(counts.rows() - 1) - spot.y_px});
  if (edge < spot.radius_px)
    spot.warnings.push_back("the circle reaches over the edge of the frame: sum and centre are biased");
  if (std::min(spot.fwhm_x_px, spot.fwhm_y_px) == 0.0)
    spot.warnings.push_back("the spot is not wider than a pixel: its size is an upper bound at best");
  return spot;
}

}  // namespace sievelight
