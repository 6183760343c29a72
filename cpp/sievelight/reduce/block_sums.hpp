// SPDX-License-Identifier: GPL-3.0-or-later
/// Sums per bin of doubles over all pixels, on all cores and yet the same bit for bit on any number of them: blocks of
/// pixels that do not depend on the threads are summed apart and joined in order.
#pragma once

#include "sievelight/base/parallel.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <vector>

namespace sievelight {

/// First pixels of the blocks over which doubles are summed apart, and behind them the number of pixels.
std::vector<Eigen::Index> pixel_blocks(Eigen::Index rows, Eigen::Index columns);

/// (terms, bins) the sum over blocks of what add(first pixel, pixels, part) adds to `part` of that shape.
template <typename Add>
Eigen::MatrixXd sum_blocks(Eigen::Index rows, Eigen::Index columns, Eigen::Index terms, Eigen::Index bins,
                           const Add& add) {
  const std::vector<Eigen::Index> ends = pixel_blocks(rows, columns);
  std::vector<Eigen::MatrixXd> parts(ends.size() - 1);
  parallel_for(parts.size(), [&](std::size_t b) {
    parts[b] = Eigen::MatrixXd::Zero(terms, bins);
    add(ends[b], ends[b + 1] - ends[b], parts[b]);
  });
  for (std::size_t b = 1; b < parts.size(); ++b) parts[0] += parts[b];
  return parts[0];
}

/// Calls use(first, n) for the strips of a run of pixels, short enough to stay in the first cache.
inline constexpr Eigen::Index longest_strip = 512;
template <typename Use>
void for_strips(Eigen::Index first, Eigen::Index n, const Use& use) {
  for (Eigen::Index done = 0; done < n; done += longest_strip) use(first + done, std::min(longest_strip, n - done));
}

}  // namespace sievelight
