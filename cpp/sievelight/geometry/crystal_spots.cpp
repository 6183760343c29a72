// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/crystal_spots.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/frames/count_tails.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr Index block = 8;  // neighbours in a block along the ring
constexpr int fewest_neighbours = 8;
constexpr double join_chance = 1e-3;
constexpr int most_rounds = 8;
constexpr double longest_in_spots = 3.0;  // what is longer is a streak or an arc

double median(std::vector<double>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// What the ring beside a pixel lets expect there, and how many pixels' worth it is known from (0 = not judged).
struct Expected {
  double level = 0.0, worth = 0.0;
  bool one_sided = false;  // by a gap or the frame's edge: a slope is not told well from a spot
};

// The pixels of a frame in rings one pixel wide, each sorted along its azimuth.
class Rings {
 public:
  Rings(const Image& counts, const Mask& skip, const PixelMap& map, double gap_px)
      : counts_(counts), azimuth_(map.azimuth_rad.data()), gap_(gap_px) {
    const Image& q = map.q_per_nm;
    const Index rows = q.rows(), columns = q.cols();
    low_ = q.minCoeff();
    // A ring's width in q: the usual step from one pixel to the next.
    std::vector<double> steps;
    for (Index y = 0; y < rows; y += std::max<Index>(1, rows / 64))
      for (Index x = 0; x < columns; x += std::max<Index>(1, columns / 64)) {
        const double dx = columns > 1 ? q(y, x + 1 < columns ? x + 1 : x - 1) - q(y, x) : 0.0;
        const double dy = rows > 1 ? q(y + 1 < rows ? y + 1 : y - 1, x) - q(y, x) : 0.0;
        if (const double step = std::hypot(dx, dy); step > 0) steps.push_back(step);
      }
    if (steps.empty()) return;
    step_ = median(steps);
    const auto n = static_cast<std::size_t>((q.maxCoeff() - low_) / step_) + 2;
    rings_.resize(n);
    for (Index i = 0; i < q.size(); ++i)
      if (!skip.data()[i]) rings_[ring_of(q.data()[i])].push_back(i);
    parallel_for(n, [&](std::size_t r) {
      std::vector<Index>& ring = rings_[r];
      std::sort(ring.begin(), ring.end(), [&](Index a, Index b) { return azimuth_[a] < azimuth_[b]; });
    });
    place_.assign(static_cast<std::size_t>(q.size()), 0);
    for (const std::vector<Index>& ring : rings_)
      for (std::size_t k = 0; k < ring.size(); ++k) place_[static_cast<std::size_t>(ring[k])] = k;
    profile_.assign(n, 0.0);
    set_profile();
    shape_.resize(rows, columns);
    parallel_for(static_cast<std::size_t>(rows), [&](std::size_t y) {
      for (Index x = 0; x < columns; ++x) shape_(static_cast<Index>(y), x) = shape_at(q(static_cast<Index>(y), x));
    });
  }

  std::size_t count() const { return rings_.size(); }
  const std::vector<Index>& ring(std::size_t r) const { return rings_[r]; }
  std::size_t ring_of(double q) const {
    return std::min(static_cast<std::size_t>((q - low_) / step_), rings_.size() - 1);
  }

  /// The ring profile at a pixel, in counts, plus one half.
  double shape(Index i) const { return shape_.data()[i]; }
  std::size_t place(Index i) const { return place_[static_cast<std::size_t>(i)]; }

  // Running sums along a ring, for plainly_not_above().
  struct Sums {
    std::vector<double> counts, shape;
  };
  Sums sums(std::size_t r, const Mask& found) const {
    Sums out{{0.0}, {0.0}};
    for (const Index i : rings_[r]) {
      out.counts.push_back(out.counts.back() + (found.data()[i] ? 0.0 : counts_.data()[i]));
      out.shape.push_back(out.shape.back() + (found.data()[i] ? 0.0 : shape(i)));
    }
    return out;
  }
  // Most pixels are no more than two standard deviations above the mean of either side, and need no closer look.
  bool plainly_not_above(std::size_t r, std::size_t k, const Sums& sums) const {
    const std::size_t gap = static_cast<std::size_t>(gap_) + 1, wide = 2 * static_cast<std::size_t>(block);
    const std::size_t n = rings_[r].size();
    if (k < gap + wide || k + gap + wide >= n) return false;
    const Index i = rings_[r][k];
    const auto below = [&](std::size_t from, std::size_t to) {
      const double shape_sum = sums.shape[to] - sums.shape[from];
      const double level = shape_sum > 0 ? (sums.counts[to] - sums.counts[from]) / shape_sum * shape(i) : 0.0;
      return counts_.data()[i] < level + 2 * std::sqrt(level);
    };
    return below(k - gap - wide, k - gap) || below(k + gap + 1, k + gap + wide + 1);
  }

  Expected expected(std::size_t r, std::size_t k, const Mask& found) const {
    const Index here = rings_[r][k];
    const double own = shape(here);
    const Side left = side(r, k, -1, found), right = side(r, k, +1, found);
    if (left.n + right.n < fewest_neighbours || !(own > 0)) return {};
    const bool one_sided = left.n < fewest_neighbours / 2 || right.n < fewest_neighbours / 2;
    const Expected a = level(left, one_sided), b = level(right, one_sided);
    if (left.n < fewest_neighbours / 2) return {b.level * own, b.worth, true};
    if (right.n < fewest_neighbours / 2) return {a.level * own, a.worth, true};
    const Expected& higher = a.level > b.level ? a : b;
    return {higher.level * own, higher.worth, false};
  }

 private:
  struct Side {
    double near = 0, near_shape = 0, far = 0, far_shape = 0;
    int n = 0;
  };

  // Sums over two blocks of neighbours in one direction, from the gap on; `found` pixels are passed over.
  Side side(std::size_t r, std::size_t k, int direction, const Mask& found) const {
    const std::vector<Index>& ring = rings_[r];
    const auto n = static_cast<Index>(ring.size());
    const Index columns = counts_.cols(), here = ring[k];
    const double y = static_cast<double>(here / columns), x = static_cast<double>(here % columns);
    Side out;
    // No further than a block and a gap beyond what is needed: past a module's gap the ring may be another.
    for (Index step = 1, taken = 0; step < n && taken < 2 * block && step < 12 * block; ++step) {
      const Index other = ring[static_cast<std::size_t>(((static_cast<Index>(k) + direction * step) % n + n) % n)];
      if (found.data()[other]) continue;
      const double distance =
          std::hypot(static_cast<double>(other / columns) - y, static_cast<double>(other % columns) - x);
      if (distance < gap_) {
        if (step > n / 2) break;  // all around a small ring
        continue;
      }
      // So near to the beam point the gap is a good part of the ring, and what lies beyond it another direction.
      if (taken == 0 && std::abs(std::remainder(azimuth_[other] - azimuth_[here], 2 * pi)) > pi / 6) break;
      if (distance > gap_ + 3 * static_cast<double>(block)) break;
      (taken < block ? out.near : out.far) += counts_.data()[other];
      (taken < block ? out.near_shape : out.far_shape) += shape(other);
      ++taken;
      out.n = static_cast<int>(taken);
    }
    return out;
  }

  // Levels are in units of the ring profile at the neighbours.
  // Where the other side is missing (a gap, the frame's edge) nothing bounds a slope: then it may rise by a factor, as
  // the flank of a streak does.
  static Expected level(const Side& s, bool one_sided) {
    const double shape_sum = s.near_shape + s.far_shape;
    if (!(shape_sum > 0)) return {};
    Expected out{(s.near + s.far) / shape_sum, static_cast<double>(s.n), one_sided};
    if (s.near_shape > 0 && s.far_shape > 0) {
      const double near = s.near / s.near_shape, far = s.far / s.far_shape;
      const double rise = near - far;
      const double sd =
          std::sqrt((s.near + 0.5) / (s.near_shape * s.near_shape) + (s.far + 0.5) / (s.far_shape * s.far_shape));
      if (rise > 2 * sd)
        out = {one_sided ? near * std::min(near / std::max(far, 1e-9), 6.0) : near + rise,
               static_cast<double>(s.n) / 10, one_sided};  // var(2 near - far) = 5 / block
    }
    return out;
  }

  // The profile of the frame in q: medians are zero where counts are few, so means of the middle half.
  void set_profile() {
    parallel_for(rings_.size(), [&](std::size_t r) {
      std::vector<double> values;
      for (const Index i : rings_[r]) values.push_back(counts_.data()[i]);
      if (values.empty()) return;
      std::sort(values.begin(), values.end());
      const std::size_t cut = values.size() / 4;
      const double sum = std::accumulate(values.begin() + static_cast<std::ptrdiff_t>(cut),
                                         values.end() - static_cast<std::ptrdiff_t>(cut), 0.0);
      profile_[r] = sum / static_cast<double>(values.size() - 2 * cut);
    });
  }

  // The profile at a pixel's own q, between ring middles; half a count keeps ratios sensible where there is almost
  // none.
  double shape_at(double q) const {
    const double at = (q - low_) / step_ - 0.5;
    const double floor_at = std::clamp(std::floor(at), 0.0, static_cast<double>(rings_.size()) - 2);
    const auto r = static_cast<std::size_t>(floor_at);
    const double t = std::clamp(at - floor_at, 0.0, 1.0);
    return (1 - t) * profile_[r] + t * profile_[r + 1] + 0.5;
  }

  const Image& counts_;
  const double* azimuth_;
  double gap_, low_ = 0, step_ = 1;
  std::vector<std::vector<Index>> rings_;
  std::vector<std::size_t> place_;  // of a pixel in its ring
  Image shape_;
  std::vector<double> profile_;
};

void check(const Image& counts, const Mask& masked, const PixelMap& map, const SpotOptions& options) {
  const auto same = [&](Index rows, Index columns) { return rows == counts.rows() && columns == counts.cols(); };
  if (!same(map.q_per_nm.rows(), map.q_per_nm.cols()) || (masked.size() != 0 && !same(masked.rows(), masked.cols())))
    throw InputError(fmt::format("the frame is {} x {}, its map of q {} x {} and its mask {} x {}.", counts.rows(),
                                 counts.cols(), map.q_per_nm.rows(), map.q_per_nm.cols(), masked.rows(), masked.cols()),
                     "Use maps and masks of the same detector, in the same orientation and binning.");
  if (!(options.false_alarm > 0 && options.false_alarm < 1 && options.contrast > 1 && options.spot_px >= 1 &&
        options.spot_px < 1000 && options.margin_px >= 0 && options.margin_px < 1000))
    throw InputError(
        fmt::format("false_alarm is {}, contrast {}, spot_px {}, margin_px {}.", options.false_alarm, options.contrast,
                    options.spot_px, options.margin_px),
        "Give a chance between 0 and 1, a contrast above 1, a spot of at least 1 pixel, a margin of 0 or more.");
}

// A streak goes on along the radius, a spot does not: in squares of 3 x 3 pixels more than half a spot further in and
// out, the excess over the ring's profile is still there. Half-way between the two, on a log scale, is the border.
bool is_streak(const Image& counts, const Mask& skip, const Rings& rings, const PixelMap& map, Index i,
               const Expected& e, double gap) {
  const Index rows = counts.rows(), columns = counts.cols(), y = i / columns, x = i % columns;
  // The direction in which q rises, from the neighbours.
  const Index x0 = std::max<Index>(0, x - 1), x1 = std::min(columns - 1, x + 1);
  const Index y0 = std::max<Index>(0, y - 1), y1 = std::min(rows - 1, y + 1);
  const double dx = map.q_per_nm(y, x1) - map.q_per_nm(y, x0), dy = map.q_per_nm(y1, x) - map.q_per_nm(y0, x);
  const double norm = std::hypot(dx, dy);
  if (!(norm > 0)) return false;
  const double own = counts.data()[i] / rings.shape(i);
  double least = own;
  int sides = 0;
  for (const double side : {-1.0, 1.0}) {
    const auto cy = static_cast<Index>(std::lround(static_cast<double>(y) + side * (gap + 1) * dy / norm));
    const auto cx = static_cast<Index>(std::lround(static_cast<double>(x) + side * (gap + 1) * dx / norm));
    double seen = 0, profile = 0;
    for (Index yy = std::max<Index>(0, cy - 1); yy <= std::min(rows - 1, cy + 1); ++yy)
      for (Index xx = std::max<Index>(0, cx - 1); xx <= std::min(columns - 1, cx + 1); ++xx)
        if (!skip(yy, xx)) {
          seen += counts(yy, xx);
          profile += rings.shape(yy * columns + xx);
        }
    if (!(profile > 0)) continue;
    ++sides;
    least = std::min(least, seen / profile);
  }
  return sides > 0 && least * std::sqrt(counts.data()[i] / std::max(e.level, 0.5)) > own;
}

bool is_above(double n, const Expected& e, double contrast, double chance) {
  if (!(e.worth > 0) || n <= (e.one_sided ? contrast * contrast : contrast) * e.level) return false;
  // Nearer than four standard deviations the tail is never below a sensible chance.
  if (chance < join_chance && n - e.level < 4 * std::sqrt(e.level)) return false;
  return chance_of_more_than(n - 1, e.level, e.worth) < chance;
}

}  // namespace

CrystalSpots find_crystal_spots(const Image& counts, const Mask& masked, const PixelMap& map,
                                const SpotOptions& options) {
  check(counts, masked, map, options);
  quiet_gsl();
  const Index rows = counts.rows(), columns = counts.cols();
  Mask skip = !counts.isFinite() || counts < 0;
  if (masked.size() != 0) skip = skip || masked;
  const double gap = 0.5 * options.spot_px + 1;
  const Rings rings(counts, skip, map, gap);
  Mask found = Mask::Constant(rows, columns, false);
  Image level = Image::Zero(rows, columns);
  const double chance = options.false_alarm / static_cast<double>(std::max<Index>(1, counts.size() - skip.count()));
  for (int round = 0; round < most_rounds; ++round) {
    // 2 = seed, 1 = may join a spot; a pixel found before keeps its level.
    Eigen::Array<unsigned char, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> kind(rows, columns);
    kind.setZero();
    parallel_for(rings.count(), [&](std::size_t r) {
      const std::vector<Index>& ring = rings.ring(r);
      const Rings::Sums sums = rings.sums(r, found);
      for (std::size_t k = 0; k < ring.size(); ++k) {
        const Index i = ring[k];
        if (found.data()[i] || rings.plainly_not_above(r, k, sums)) continue;
        const Expected e = rings.expected(r, k, found);
        const double n = counts.data()[i];
        if (is_above(n, e, options.contrast, chance) && !is_streak(counts, skip, rings, map, i, e, gap))
          kind.data()[i] = 2;
        else if (is_above(n, e, 1.0, join_chance))
          kind.data()[i] = 1;
      }
    });
    Mask next = found;
    std::vector<Index> queue;
    for (Index y = 0; y < rows; ++y)
      for (Index x = 0; x < columns; ++x)
        if (kind(y, x) == 2) next(y, x) = true, queue.push_back(y * columns + x);
    while (!queue.empty()) {
      const Index y = queue.back() / columns, x = queue.back() % columns;
      queue.pop_back();
      for (Index yy = std::max<Index>(0, y - 1); yy <= std::min(rows - 1, y + 1); ++yy)
        for (Index xx = std::max<Index>(0, x - 1); xx <= std::min(columns - 1, x + 1); ++xx)
          if (kind(yy, xx) == 1 && !next(yy, xx)) next(yy, xx) = true, queue.push_back(yy * columns + xx);
    }
    if ((next == found).all()) break;
    found = next;
  }

  // Now that the spots are known, the ring beside them is seen without their flanks.
  for (Index i = 0; i < counts.size(); ++i)
    if (found.data()[i])
      level.data()[i] = rings.expected(rings.ring_of(map.q_per_nm.data()[i]), rings.place(i), found).level;
  CrystalSpots out;
  out.mask = Mask::Constant(rows, columns, false);
  Mask seen = Mask::Constant(rows, columns, false);
  for (Index y0 = 0; y0 < rows; ++y0)
    for (Index x0 = 0; x0 < columns; ++x0) {
      if (!found(y0, x0) || seen(y0, x0)) continue;
      CrystalSpot spot;
      std::vector<Index> queue{y0 * columns + x0};
      seen(y0, x0) = true;
      double top = -1;
      std::vector<Index> members;
      Index y_low = y0, y_high = y0, x_low = x0, x_high = x0;
      while (!queue.empty()) {
        const Index y = queue.back() / columns, x = queue.back() % columns;
        queue.pop_back();
        members.push_back(y * columns + x);
        y_low = std::min(y_low, y), y_high = std::max(y_high, y), x_low = std::min(x_low, x),
        x_high = std::max(x_high, x);
        const double excess = std::max(counts(y, x) - level(y, x), 0.0);
        ++spot.pixels;
        spot.excess_counts += excess;
        spot.x_px += excess * static_cast<double>(x);
        spot.y_px += excess * static_cast<double>(y);
        if (counts(y, x) > top) {
          top = counts(y, x);
          spot.ratio = counts(y, x) / std::max(level(y, x), 0.5);
          spot.q_per_nm = map.q_per_nm(y, x);
        }
        for (Index yy = std::max<Index>(0, y - 1); yy <= std::min(rows - 1, y + 1); ++yy)
          for (Index xx = std::max<Index>(0, x - 1); xx <= std::min(columns - 1, x + 1); ++xx)
            if (found(yy, xx) && !seen(yy, xx)) seen(yy, xx) = true, queue.push_back(yy * columns + xx);
      }
      if (static_cast<double>(std::max(y_high - y_low, x_high - x_low)) > longest_in_spots * options.spot_px ||
          !(spot.excess_counts > 0))
        continue;
      for (const Index i : members) out.mask.data()[i] = true;
      spot.x_px /= spot.excess_counts;
      spot.y_px /= spot.excess_counts;
      out.spots.push_back(spot);
    }
  std::sort(out.spots.begin(), out.spots.end(),
            [](const CrystalSpot& a, const CrystalSpot& b) { return a.excess_counts > b.excess_counts; });
  for (int step = 0; step < options.margin_px; ++step) {
    const Mask last = out.mask;
    for (Index y = 0; y < rows; ++y)
      for (Index x = 0; x < columns; ++x)
        if (last(y, x))
          out.mask
              .block(std::max<Index>(0, y - 1), std::max<Index>(0, x - 1),
                     std::min(rows - 1, y + 1) - std::max<Index>(0, y - 1) + 1,
                     std::min(columns - 1, x + 1) - std::max<Index>(0, x - 1) + 1)
              .setConstant(true);
  }
  return out;
}

}  // namespace sievelight
