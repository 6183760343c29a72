// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/ring_levels.hpp"

#include "sievelight/base/units.hpp"

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr Index most_sectors = 24;
constexpr double fewest_in_sector = 4;

double median(std::vector<double>& values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

}  // namespace

RingLevels::RingLevels(const Image& counts, const Mask& usable, std::pair<double, double> center) : center_(center) {
  double furthest = 0;
  for (const Index y : {Index{0}, counts.rows() - 1})
    for (const Index x : {Index{0}, counts.cols() - 1}) furthest = std::max(furthest, radius(y, x));
  // A beam point far from the frame would need rings without end; they would all be empty near it.
  const Index rings = static_cast<Index>(std::min(furthest, 1e5)) + 2;
  rings_.resize(static_cast<std::size_t>(rings));
  std::vector<std::vector<double>> sums(rings_.size()), pixels(rings_.size());
  for (Index k = 0; k < rings; ++k) {
    const auto sectors =
        std::clamp<Index>(static_cast<Index>(2 * pi * static_cast<double>(k) * 3 / 24), 1, most_sectors);
    sums[static_cast<std::size_t>(k)].assign(static_cast<std::size_t>(sectors), 0.0);
    pixels[static_cast<std::size_t>(k)] = sums[static_cast<std::size_t>(k)];
  }
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x) {
      if (!usable(y, x)) continue;
      const double r = radius(y, x), t = turn(y, x);
      const Index nearest = static_cast<Index>(std::lround(std::min(r, 1e5)));
      for (Index k = std::max<Index>(0, nearest - 1); k <= std::min(rings - 1, nearest + 1); ++k) {
        auto& sum = sums[static_cast<std::size_t>(k)];
        const auto s = std::min(static_cast<std::size_t>(t * static_cast<double>(sum.size())), sum.size() - 1);
        sum[s] += counts(y, x);
        pixels[static_cast<std::size_t>(k)][s] += 1;
      }
    }
  for (std::size_t k = 0; k < rings_.size(); ++k) {
    Ring& ring = rings_[k];
    const std::size_t n = sums[k].size();
    ring.sectors.assign(n, -1.0);
    std::vector<double> known;
    for (std::size_t s = 0; s < n; ++s)
      if (pixels[k][s] >= fewest_in_sector) {
        ring.sectors[s] = sums[k][s] / pixels[k][s];
        known.push_back(ring.sectors[s]);
        ring.pixels += pixels[k][s];
      }
    ring.level = median(known);
    const std::size_t reach = std::max<std::size_t>(1, n / 8);
    for (std::size_t s = 0; s < n; ++s) {
      std::vector<double> near;
      for (std::size_t i = 0; i < std::min(2 * reach + 1, n); ++i)
        if (const double level = ring.sectors[(s + n + i - std::min(reach, n - 1)) % n]; level >= 0)
          near.push_back(level);
      ring.around.push_back(median(near));
    }
  }
}

double RingLevels::radius(Index row, Index column) const {
  return std::hypot(static_cast<double>(column) - center_.first, static_cast<double>(row) - center_.second);
}

double RingLevels::turn(Index row, Index column) const {
  const double angle =
      std::atan2(static_cast<double>(row) - center_.second, static_cast<double>(column) - center_.first);
  return (angle + pi) / (2 * pi);
}

double RingLevels::local_level(Index row, Index column) const {
  const auto k = static_cast<std::size_t>(std::lround(std::min(radius(row, column), 1e5)));
  if (k >= rings_.size()) return 0.0;
  const std::vector<double>& around = rings_[k].around;
  return around[std::min(static_cast<std::size_t>(turn(row, column) * static_cast<double>(around.size())),
                         around.size() - 1)];
}

}  // namespace sievelight
