// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_points.hpp"

#include "sievelight/base/parallel.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/ring_peak.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double least_significance = 5.0;
constexpr std::size_t least_points = 3;
constexpr double least_share = 0.2;

struct RingSample {
  SectorSample sample;
  double azimuth_rad;
};

/// Pixels around each ring.
std::vector<std::vector<RingSample>> gather(const Image& counts, const Mask& unusable, const RingView& view,
                                            const std::vector<RingWindow>& windows) {
  struct Bound {
    double low, high;  // of tan(2 theta), a little generous
  };
  std::vector<Bound> bounds;
  double lowest = 1e300, highest = 0.0;
  for (const RingWindow& w : windows) {
    const double t = std::tan(w.two_theta_rad),
                 reach = 1.5 * (w.half_width_px + 1.0) * t / view.radius_px(w.two_theta_rad);
    bounds.push_back({t - reach * (1.0 + t * t), t + reach * (1.0 + t * t)});
    lowest = std::min(lowest, bounds.back().low);
    highest = std::max(highest, bounds.back().high);
  }
  // Strips of rows on all cores, joined in order.
  constexpr Index strip = 64;
  using Rings = std::vector<std::vector<RingSample>>;
  std::vector<Rings> parts(static_cast<std::size_t>((counts.rows() + strip - 1) / strip), Rings(windows.size()));
  parallel_for(parts.size(), [&](std::size_t part) {
    const Index first = static_cast<Index>(part) * strip;
    for (Index y = first; y < std::min(counts.rows(), first + strip); ++y)
      for (Index x = 0; x < counts.cols(); ++x) {
        if (unusable(y, x)) continue;
        const double column = static_cast<double>(x), row = static_cast<double>(y);
        const double t = view.tan_two_theta(column, row);
        if (!(t > lowest && t < highest)) continue;
        for (std::size_t k = 0; k < windows.size(); ++k) {
          if (!(t > bounds[k].low && t < bounds[k].high)) continue;
          const RingSight sight = view.at(column, row);
          const double offset = sight.offset_px(windows[k].two_theta_rad);
          if (std::abs(offset) <= windows[k].half_width_px)
            parts[part][k].push_back({{offset, counts(y, x), column, row}, sight.azimuth_rad});
        }
      }
  });
  Rings rings(windows.size());
  parallel_for(rings.size(), [&](std::size_t k) {
    for (const Rings& part : parts) rings[k].insert(rings[k].end(), part[k].begin(), part[k].end());
  });
  return rings;
}

/// The place on the crest: from the mean place of the pixels under the peak, along the radius to the peak's offset.
RingPoint make_point(const std::vector<SectorSample>& sector, const RingPeak& peak, const RingWindow& window,
                     const RingView& view, double blur_px) {
  double weight = 0.0, x = 0.0, y = 0.0;
  for (const SectorSample& s : sector) {
    const double t = (s.offset_px - peak.offset_px) / peak.sigma_px, w = std::exp(-0.5 * t * t);
    weight += w;
    x += w * s.x_px;
    y += w * s.y_px;
  }
  RingPoint point{.order = window.order, .x_px = x / weight, .y_px = y / weight};
  for (int again = 0; again < 2; ++again) {  // the second step removes the curvature left by the first
    const RingSight sight = view.at(point.x_px, point.y_px);
    const double move = peak.offset_px + blur_px - sight.offset_px(window.two_theta_rad);
    point.x_px += move * sight.step_x;
    point.y_px += move * sight.step_y;
    point.azimuth_rad = sight.azimuth_rad;
  }
  point.u_px = peak.u_px;
  point.sigma_px = peak.sigma_px;
  return point;
}

std::vector<RingPoint> points_of_ring(const std::vector<RingSample>& ring, const RingWindow& window,
                                      const RingView& view, double beam_sigma_px) {
  const double radius = view.radius_px(window.two_theta_rad);
  const double blur = beam_sigma_px * beam_sigma_px / (2.0 * radius);
  const double finest = std::max({2.0 * pi / 180.0, 8.0 / radius});
  std::vector<RingPoint> best;
  double best_information = 0.0;
  for (double width = finest; width <= std::max(finest, 2.0 * pi / 8.0) && width <= 16.01 * finest; width *= 2.0) {
    const auto n = static_cast<std::size_t>(std::max(1.0, std::floor(2.0 * pi / width)));
    std::vector<std::vector<SectorSample>> sectors(n);
    for (const RingSample& s : ring) {
      const double turn = (s.azimuth_rad + pi) / (2.0 * pi) * static_cast<double>(n);
      sectors[std::min(n - 1, static_cast<std::size_t>(std::max(0.0, turn)))].push_back(s.sample);
    }
    // In view: pixels on both sides of the prediction, at least half of what a full sector holds.
    const double full = radius * (2.0 * pi / static_cast<double>(n)) * 2.0 * window.half_width_px;
    std::size_t in_view = 0;
    std::vector<std::optional<RingPoint>> found(n);
    for (const auto& sector : sectors) in_view += static_cast<double>(sector.size()) > 0.5 * full ? 1 : 0;
    for (std::size_t i = 0; i < n; ++i) {
      if (static_cast<double>(sectors[i].size()) < 0.3 * full) continue;
      const auto peak = fit_ring_peak(sectors[i], radius, window.half_width_px, window.sigma_px);
      if (!peak || peak->significance < least_significance) continue;
      found[i] = make_point(sectors[i], *peak, window, view, blur);
      found[i]->sector_rad = 2.0 * pi / static_cast<double>(n);
    }
    std::vector<RingPoint> points;
    double information = 0.0;
    for (const auto& point : found)
      if (point) {
        points.push_back(*point);
        information += 1.0 / (point->u_px * point->u_px);
      }
    const bool enough = points.size() >= least_points &&
                        static_cast<double>(points.size()) >= least_share * static_cast<double>(in_view);
    if (enough && information > best_information) {
      best = points;
      best_information = information;
    }
    if (enough && 2 * points.size() >= in_view) break;
  }
  return best;
}

}  // namespace

std::vector<RingPoint> find_ring_points(const Image& counts, const Mask& unusable, const DetectorGeometry& geometry,
                                        const std::vector<RingWindow>& windows, double beam_sigma_px) {
  const RingView view(geometry);
  const auto rings = gather(counts, unusable, view, windows);
  std::vector<std::vector<RingPoint>> of_ring(windows.size());
  parallel_for(windows.size(),
               [&](std::size_t k) { of_ring[k] = points_of_ring(rings[k], windows[k], view, beam_sigma_px); });
  std::vector<RingPoint> points;
  for (const std::vector<RingPoint>& ring : of_ring) points.insert(points.end(), ring.begin(), ring.end());
  return points;
}

}  // namespace sievelight
