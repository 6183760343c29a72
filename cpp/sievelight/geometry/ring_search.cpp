// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_search.hpp"

#include "sievelight/base/parallel.hpp"
#include "sievelight/geometry/ring_places.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double least_pixels = 20;  // a ring with fewer pixels in view does not score

/// Running sums of a radial profile with bins of one block, for means between any two radii.
class Profile {
 public:
  struct Part {
    double sum = 0.0, count = 0.0;
  };

  Profile(const Places& places, const DetectorGeometry& g, double block_mm) : block_mm_(block_mm) {
    const Eigen::Matrix3f turn = (rotation(g) / block_mm).cast<float>();
    const Eigen::Vector3f step_x = turn.col(0) * static_cast<float>(g.pixel_size_x_mm),
                          step_y = turn.col(1) * static_cast<float>(g.pixel_size_y_mm);
    const auto x_c = static_cast<float>(g.beam_center_x_px), y_c = static_cast<float>(g.beam_center_y_px),
               closer = static_cast<float>(block_mm / g.distance_mm);
    constexpr float most = 60000.0F;
    constexpr std::size_t together = 1024;
    std::array<float, together> radius{};
    parts_.resize(2);
    for (std::size_t start = 0; start < places.x_px.size(); start += together) {
      const std::size_t n = std::min(together, places.x_px.size() - start);
      for (std::size_t i = 0; i < n; ++i) {
        const float dx = places.x_px[start + i] - x_c, dy = places.y_px[start + i] - y_c;
        const float rx = step_x.x() * dx + step_y.x() * dy, ry = step_x.y() * dx + step_y.y() * dy,
                    rz = step_x.z() * dx + step_y.z() * dy;
        // Radius as seen on an untilted detector at the start's distance; behind the sample it lies out of reach.
        const float z = 1.0F + rz * closer;
        radius[i] = z > 0.0F ? std::min(std::sqrt(rx * rx + ry * ry) / z, most) : most;
      }
      for (std::size_t i = 0; i < n; ++i) {
        const auto bin = static_cast<std::size_t>(radius[i]) + 1;
        if (bin >= parts_.size()) parts_.resize(bin + 1);
        parts_[bin].sum += static_cast<double>(places.value[start + i]);
        parts_[bin].count += 1.0;
      }
    }
    for (std::size_t i = 1; i < parts_.size(); ++i) {
      parts_[i].sum += parts_[i - 1].sum;
      parts_[i].count += parts_[i - 1].count;
    }
  }

  Part between(double low_mm, double high_mm) const {
    const Part a = upto(low_mm / block_mm_), b = upto(high_mm / block_mm_);
    return {b.sum - a.sum, b.count - a.count};
  }

 private:
  Part upto(double radius) const {
    if (radius <= 0.0) return {};
    if (radius >= static_cast<double>(parts_.size() - 1)) return parts_.back();
    const auto i = static_cast<std::size_t>(radius);
    const double part = radius - static_cast<double>(i);
    return {parts_[i].sum + part * (parts_[i + 1].sum - parts_[i].sum),
            parts_[i].count + part * (parts_[i + 1].count - parts_[i].count)};
  }

  double block_mm_;
  std::vector<Part> parts_;  // parts_[i]: all below radius i
};

struct Best {
  double contrast = 0.0, stretch = 1.0, half_width_mm = 0.0, x_px = 0.0, y_px = 0.0;
};

struct Search {
  const Places& places;
  const DetectorGeometry& start;
  Eigen::VectorXd radius_mm;  // of the rings at the start's distance, untilted
  const RingSearchOptions& options;
  double block_mm, noise2;
  double radius_max_mm;

  /// Best distance for one centre.
  Best at(double x_px, double y_px) const {
    DetectorGeometry g = start;
    g.beam_center_x_px = x_px;
    g.beam_center_y_px = y_px;
    const Profile profile(places, g, block_mm);
    Best best{.x_px = x_px, .y_px = y_px};
    // The outermost ring moves by half a block from one distance to the next.
    const double step = std::min(0.01, 0.5 * block_mm / radius_max_mm);
    const int steps = static_cast<int>(std::ceil(options.relative / step));
    for (const double half_width : {1.5 * block_mm, 3.0 * block_mm, 6.0 * block_mm})
      for (int i = -steps; i <= steps; ++i) {
        const double stretch = 1.0 + i * step;
        if (const double c = contrast(profile, stretch, half_width); c > best.contrast) {
          best.contrast = c;
          best.stretch = stretch;
          best.half_width_mm = half_width;
        }
      }
    return best;
  }

  double contrast(const Profile& profile, double stretch, double half_width) const {
    double total = 0.0;
    const Index n = radius_mm.size();
    for (Index k = 0; k < n; ++k) {
      const double radius = stretch * radius_mm[k];
      if (radius > radius_max_mm * (1.0 + options.relative)) break;
      const double gap = std::min(k > 0 ? radius - stretch * radius_mm[k - 1] : radius,
                                  k + 1 < n ? stretch * radius_mm[k + 1] - radius : 1e300);
      const double flank = std::min(3.0 * half_width, 0.6 * gap);
      if (flank < half_width + block_mm) continue;  // too crowded for this width
      const auto ring = profile.between(radius - half_width, radius + half_width),
                 inner = profile.between(radius - flank, radius - half_width),
                 outer = profile.between(radius + half_width, radius + flank);
      if (ring.count < least_pixels || inner.count < least_pixels || outer.count < least_pixels) continue;
      // Mean of the two flanks' means: a slope cancels.
      const double difference = ring.sum / ring.count - 0.5 * (inner.sum / inner.count + outer.sum / outer.count);
      if (difference > 0.0)
        total += difference * difference / (noise2 * (1.0 / ring.count + 0.25 / inner.count + 0.25 / outer.count));
    }
    return total;
  }
};

}  // namespace

RingSearchResult search_rings(const Image& counts, const Mask& unusable, const DetectorGeometry& start,
                              const Eigen::VectorXd& two_theta_rad, const RingSearchOptions& options) {
  const RingView view(start);
  const Blocks blocks = make_blocks(counts, unusable);
  const double block_mm = view.pixel_mm() * blocks.side;
  double radius_max_mm = 0.0;
  for (const Index y : {Index{0}, counts.rows() - 1})
    for (const Index x : {Index{0}, counts.cols() - 1}) {
      const double t = view.tan_two_theta(static_cast<double>(x), static_cast<double>(y));
      if (t > 0.0) radius_max_mm = std::max(radius_max_mm, t * start.distance_mm);
    }
  // The square of the local mean reaches half-way to the next ring, so that a ring does not flatten itself.
  double gap_mm = 1e300;
  for (Index k = 0; k < two_theta_rad.size(); ++k) {
    const double radius = start.distance_mm * std::tan(two_theta_rad[k]);
    if (radius > radius_max_mm) break;
    gap_mm = std::min(gap_mm, radius - (k > 0 ? start.distance_mm * std::tan(two_theta_rad[k - 1]) : 0.0));
  }
  const Index half_box = static_cast<Index>(std::clamp(0.4 * gap_mm / block_mm, 4.0, 25.0));
  RingSearchResult result{.geometry = start};
  const Places places = flatten(blocks, half_box);
  if (places.value.empty() || radius_max_mm <= 0.0) return result;
  const double noise = std::max(1.4826 * static_cast<double>(quantile_of_size(places.value, 0.5)), 1e-6);
  const Search search{places,        start,        start.distance_mm * two_theta_rad.array().tan(), options, block_mm,
                      noise * noise, radius_max_mm};

  const double grid_px = std::max(2.0, static_cast<double>(blocks.side));
  const int reach = static_cast<int>(std::ceil(options.reach_px / grid_px)), side = 2 * reach + 1;
  std::vector<Best> found(static_cast<std::size_t>(side) * static_cast<std::size_t>(side));
  parallel_for(found.size(), [&](std::size_t i) {
    const int column = static_cast<int>(i) % side - reach, row = static_cast<int>(i) / side - reach;
    found[i] = search.at(start.beam_center_x_px + column * grid_px, start.beam_center_y_px + row * grid_px);
  });
  Best best = *std::ranges::max_element(found, {}, &Best::contrast);
  for (double step = 0.5 * grid_px; step >= 0.45; step *= 0.5)
    for (int round = 0; round < 4; ++round) {
      std::vector<Best> around(9);
      parallel_for(around.size(), [&](std::size_t i) {
        around[i] = search.at(best.x_px + (static_cast<int>(i) % 3 - 1) * step,
                              best.y_px + (static_cast<int>(i) / 3 - 1) * step);
      });
      const Best next = *std::ranges::max_element(around, {}, &Best::contrast);
      if (next.contrast <= best.contrast) break;
      best = next;
    }
  result.contrast = best.contrast;
  result.half_width_px = best.half_width_mm / view.pixel_mm();
  result.geometry.distance_mm *= best.stretch;
  result.geometry.beam_center_x_px = best.x_px;
  result.geometry.beam_center_y_px = best.y_px;
  result.at_edge = std::abs(best.stretch - 1.0) > 0.98 * options.relative ||
                   std::abs(best.x_px - start.beam_center_x_px) > 0.98 * reach * grid_px ||
                   std::abs(best.y_px - start.beam_center_y_px) > 0.98 * reach * grid_px;
  return result;
}

}  // namespace sievelight
