// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/beamstop_shadow.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/frames/ring_levels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>
#include <optional>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

// Standard deviations by which the edge must stand out, and a pixel (or box of pixels) must lie below its level.
constexpr double edge_significance = 6.0, pixel_significance = 3.0;
constexpr double enough_counts = 25.0;
constexpr Index widest_box = 4;  // half width
constexpr Index fewest_pixels = 9;

struct Edge {
  Index radius = 0;
  double inside = 0.0, outside = 0.0;
};

std::optional<Edge> find_edge(const RingLevels& rings, const BeamstopOptions& options, double max_radius) {
  const Index last = std::min(rings.count() - 1, static_cast<Index>(max_radius));
  const Index width = static_cast<Index>(std::ceil(options.edge_px));
  for (Index r = 2; r <= last; ++r) {
    double in = std::numeric_limits<double>::infinity(), in_pixels = 0;
    for (Index k = std::max<Index>(0, r - width); k < r; ++k)
      if (rings.pixels(k) > 0 && rings.level(k) < in) in = rings.level(k), in_pixels = rings.pixels(k);
    double out = std::numeric_limits<double>::infinity(), out_pixels = 0;
    const Index reach = r + 5 + r / 2;
    for (Index k = r; k <= std::min(reach, rings.count() - 1); ++k)
      if (rings.pixels(k) > 0 && rings.level(k) < out) out = rings.level(k), out_pixels = rings.pixels(k);
    if (in_pixels < 1 || out_pixels < 1) continue;
    // The median of sector means scatters by 1.25 times the mean's standard deviation; half a count keeps it positive.
    const double sd = 1.25 * std::sqrt((in + 0.5 / in_pixels) / in_pixels + out / out_pixels);
    if (out > options.contrast * in && out - in > edge_significance * sd) return Edge{r, in, out};
  }
  return std::nullopt;
}

Mask grown(const Mask& from, int steps) {
  Mask out = from;
  for (int step = 0; step < steps; ++step) {
    const Mask last = out;
    const Index rows = last.rows(), columns = last.cols();
    for (Index dy : {-1, 0, 1})
      for (Index dx : {-1, 0, 1}) {
        const Index h = rows - std::abs(dy), w = columns - std::abs(dx);
        if (h < 1 || w < 1) continue;
        out.block(std::max<Index>(0, dy), std::max<Index>(0, dx), h, w) =
            out.block(std::max<Index>(0, dy), std::max<Index>(0, dx), h, w) ||
            last.block(std::max<Index>(0, -dy), std::max<Index>(0, -dx), h, w);
      }
  }
  return out;
}

/// Pixels more than half of whose 5 x 5 neighbourhood is set.
Mask majority(const Mask& from) {
  Mask out(from.rows(), from.cols());
  for (Index y = 0; y < from.rows(); ++y)
    for (Index x = 0; x < from.cols(); ++x) {
      const Index y0 = std::max<Index>(0, y - 2), x0 = std::max<Index>(0, x - 2);
      const auto near =
          from.block(y0, x0, std::min(from.rows() - 1, y + 2) - y0 + 1, std::min(from.cols() - 1, x + 2) - x0 + 1);
      out(y, x) = 2 * near.count() > near.size();
    }
  return out;
}

/// Pixels that are reached from `seeds` over neighbours for which `open` holds: over sides, and `corners` too.
template <typename Open>
Mask flood(const Mask& seeds, bool corners, const Open& open) {
  Mask out = Mask::Constant(seeds.rows(), seeds.cols(), false);
  std::deque<std::pair<Index, Index>> queue;
  const auto visit = [&](Index y, Index x) {
    if (out(y, x) || !open(y, x)) return;
    out(y, x) = true;
    queue.emplace_back(y, x);
  };
  for (Index y = 0; y < seeds.rows(); ++y)
    for (Index x = 0; x < seeds.cols(); ++x)
      if (seeds(y, x)) visit(y, x);
  while (!queue.empty()) {
    const auto [y, x] = queue.front();
    queue.pop_front();
    for (Index yy = std::max<Index>(0, y - 1); yy <= std::min(seeds.rows() - 1, y + 1); ++yy)
      for (Index xx = std::max<Index>(0, x - 1); xx <= std::min(seeds.cols() - 1, x + 1); ++xx)
        if (corners || yy == y || xx == x) visit(yy, xx);
  }
  return out;
}

class Search {
 public:
  Search(const Image& counts, const Mask& usable, const RingLevels& rings, const Edge& edge,
         const BeamstopOptions& options)
      : counts_(counts), usable_(usable), rings_(rings), edge_(edge), options_(options) {
    expected_.resize(counts.rows(), counts.cols());
    for (Index y = 0; y < counts.rows(); ++y)
      for (Index x = 0; x < counts.cols(); ++x) expected_(y, x) = expected_at(y, x);
  }

  Mask region() const {
    const Index rows = counts_.rows(), columns = counts_.cols();
    Mask dark(rows, columns), seeds(rows, columns);
    for (Index y = 0; y < rows; ++y)
      for (Index x = 0; x < columns; ++x) {
        dark(y, x) = usable_(y, x) && is_dark(y, x);
        seeds(y, x) = dark(y, x) && rings_.radius(y, x) < static_cast<double>(edge_.radius);
      }
    // Gaps between modules do not cut an arm in two.
    const Mask reached = flood(seeds, true, [&](Index y, Index x) { return dark(y, x) || !usable_(y, x); });
    return keep_sharp_parts(reached && dark);
  }

 private:
  // Near the edge a stop that is not centred may cover a quarter turn: there the whole ring's level counts too.
  double expected_at(Index y, Index x) const {
    const double r = rings_.radius(y, x), edge = static_cast<double>(edge_.radius);
    if (r < edge) return edge_.outside;
    const double local = rings_.local_level(y, x);
    return r < 2 * edge ? std::max(local, rings_.level(static_cast<Index>(std::lround(r)))) : local;
  }

  double beyond(Index y, Index x) const { return rings_.radius(y, x) - static_cast<double>(edge_.radius); }

  bool is_dark(Index y, Index x) const {
    for (Index h = 0; h <= widest_box; ++h) {
      const Index y0 = std::max<Index>(0, y - h), x0 = std::max<Index>(0, x - h);
      const Index high = std::min(counts_.rows() - 1, y + h) - y0 + 1,
                  wide = std::min(counts_.cols() - 1, x + h) - x0 + 1;
      double seen = 0, should = 0;
      for (Index i = y0; i < y0 + high; ++i)
        for (Index j = x0; j < x0 + wide; ++j)
          if (usable_(i, j)) {
            seen += counts_(i, j);
            should += expected_(i, j);
          }
      if (should >= enough_counts)
        return seen * options_.contrast < should && should - seen > pixel_significance * std::sqrt(should);
    }
    return false;
  }

  // Beyond the edge, each connected part must differ by the contrast squared from what lies beside its outline, over
  // 3 pixels to either side: the dark directions of an oriented pattern differ by less.
  Mask keep_sharp_parts(Mask region) const {
    const Mask whole = region;
    Mask left(region.rows(), region.cols());
    for (Index y = 0; y < region.rows(); ++y)
      for (Index x = 0; x < region.cols(); ++x) left(y, x) = region(y, x) && beyond(y, x) > 2.0;
    for (Index y = 0; y < region.rows(); ++y)
      for (Index x = 0; x < region.cols(); ++x) {
        if (!left(y, x)) continue;
        const std::vector<Place> part = take_part(left, y, x);
        if (static_cast<Index>(part.size()) < fewest_pixels || !is_sharp(part, whole))
          for (const auto& [row, column] : part) region(row, column) = false;
      }
    return region;
  }

  using Place = std::pair<Index, Index>;

  // The pixels connected with this one, taken out of `left`.
  static std::vector<Place> take_part(Mask& left, Index y0, Index x0) {
    std::vector<Place> part{{y0, x0}};
    left(y0, x0) = false;
    for (std::size_t i = 0; i < part.size(); ++i) {
      const auto [y, x] = part[i];
      for (Index yy = std::max<Index>(0, y - 1); yy <= std::min(left.rows() - 1, y + 1); ++yy)
        for (Index xx = std::max<Index>(0, x - 1); xx <= std::min(left.cols() - 1, x + 1); ++xx)
          if (left(yy, xx)) {
            left(yy, xx) = false;
            part.emplace_back(yy, xx);
          }
    }
    return part;
  }

  bool is_sharp(const std::vector<Place>& places, const Mask& whole) const {
    // Only the part's surroundings are looked at: a frame may have many parts.
    constexpr Index margin = 6;
    Index top = whole.rows(), bottom = 0, first = whole.cols(), last = 0;
    for (const auto& [y, x] : places) {
      top = std::min(top, y), bottom = std::max(bottom, y);
      first = std::min(first, x), last = std::max(last, x);
    }
    top = std::max<Index>(0, top - margin), first = std::max<Index>(0, first - margin);
    const Index rows = std::min(whole.rows(), bottom + margin + 1) - top;
    const Index columns = std::min(whole.cols(), last + margin + 1) - first;
    Mask part = Mask::Constant(rows, columns, false);
    for (const auto& [y, x] : places) part(y - top, x - first) = true;
    const Mask usable = usable_.block(top, first, rows, columns);
    // Where counts are few, chance decides which pixels are dark: a smoothed outline does not follow it.
    Mask smooth = majority(part);
    if (!smooth.any()) smooth = part;
    const Mask other = majority(whole.block(top, first, rows, columns)) && !smooth;
    const Mask shell = grown(smooth, 3) && !grown(smooth, 1) && !other && usable;
    Mask inner = !grown(!smooth, 1) && grown(!smooth, 3) && usable;
    if (!inner.any()) inner = smooth && usable;
    // Every pixel weighs the same: weighed by counts, the few pixels nearest to the beam would decide.
    const auto mean = [&](const Mask& where) {
      double sum = 0, n = 0;
      for (Index y = 0; y < rows; ++y)
        for (Index x = 0; x < columns; ++x)
          if (where(y, x) && beyond(y + top, x + first) > 0 && expected_(y + top, x + first) > 0) {
            sum += counts_(y + top, x + first) / expected_(y + top, x + first);
            n += 1;
          }
      return n > 0 ? sum / n : std::numeric_limits<double>::quiet_NaN();
    };
    return mean(shell) > options_.contrast * options_.contrast * mean(inner);
  }

  const Image& counts_;
  const Mask& usable_;
  const RingLevels& rings_;
  const Edge edge_;
  const BeamstopOptions& options_;
  Image expected_;
};

void check(const Image& counts, const Mask& masked, std::pair<double, double> beam, const BeamstopOptions& options) {
  if (masked.size() != 0 && (masked.rows() != counts.rows() || masked.cols() != counts.cols()))
    throw InputError(fmt::format("the frame is {} x {} and its mask {} x {}.", counts.rows(), counts.cols(),
                                 masked.rows(), masked.cols()),
                     "Use a mask of the same detector, in the same orientation and binning.");
  if (!std::isfinite(beam.first) || !std::isfinite(beam.second))
    throw InputError(fmt::format("the beam point is ({}, {}).", beam.first, beam.second),
                     "Give column and row in pixels.");
  if (!(options.contrast > 1 && options.edge_px >= 1 && options.edge_px < 1e4 && options.max_radius_px >= 0 &&
        options.margin_px >= 0 && options.margin_px < 1000))
    throw InputError(fmt::format("contrast is {}, edge_px {}, max_radius_px {}, margin_px {}.", options.contrast,
                                 options.edge_px, options.max_radius_px, options.margin_px),
                     "Give a contrast above 1, an edge of at least 1 pixel, and no negative lengths.");
}

}  // namespace

BeamstopShadow find_beamstop_shadow(const Image& counts, const Mask& masked, std::pair<double, double> beam,
                                    const BeamstopOptions& options) {
  check(counts, masked, beam, options);
  BeamstopShadow out;
  out.mask = Mask::Constant(counts.rows(), counts.cols(), false);
  const double max_radius = options.max_radius_px > 0 ? options.max_radius_px
                                                      : static_cast<double>(std::max(counts.rows(), counts.cols())) / 4;
  Mask usable = counts.isFinite();
  if (masked.size() != 0) usable = usable && !masked;
  const RingLevels rings(counts, usable, beam);
  const auto edge = find_edge(rings, options, max_radius);
  if (!edge) {
    out.words = fmt::format(
        "nothing found: within {:.0f} px of the beam point the level never rises by {:g} over {:g} px "
        "and stays up",
        max_radius, options.contrast, options.edge_px);
    return out;
  }
  Mask region = Search(counts, usable, rings, *edge, options).region();
  if (region.count() < fewest_pixels) {
    out.words = fmt::format("nothing found: only {} pixels are dark enough", region.count());
    return out;
  }
  // What cannot be reached from outside without crossing the shadow lies within it.
  Mask far(counts.rows(), counts.cols());
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x) far(y, x) = rings.radius(y, x) > static_cast<double>(edge->radius) + 2;
  region = region || (!flood(far, false, [&](Index y, Index x) { return !region(y, x); }) && !far);
  out.mask = grown(region, options.margin_px);
  out.found = true;
  out.edge_radius_px = static_cast<double>(edge->radius);
  out.shadow_level = edge->inside;
  out.surround_level = edge->outside;
  out.words =
      fmt::format("{} pixels; the level rises from {:.3g} to {:.3g} counts per pixel at {} px from the beam point",
                  out.mask.count(), edge->inside, edge->outside, edge->radius);
  return out;
}

}  // namespace sievelight
