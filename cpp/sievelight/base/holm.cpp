// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/holm.hpp"

#include <algorithm>
#include <numeric>

namespace sievelight {

HolmResult holm(const std::vector<double>& p, double alpha) {
  const std::size_t k = p.size();
  std::vector<std::size_t> order(k);
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return p[a] < p[b]; });
  HolmResult out{std::vector<double>(k), std::vector<double>(k), std::vector<bool>(k)};
  double highest = 0.0;
  for (std::size_t r = 0; r < k; ++r) {
    const std::size_t i = order[r];
    const auto left = static_cast<double>(k - r);
    highest = std::max(highest, std::min(1.0, left * p[i]));  // a later claim is never surer than an earlier one
    out.adjusted[i] = highest;
    out.level[i] = alpha / left;
    out.claimed[i] = highest <= alpha;
  }
  return out;
}

}  // namespace sievelight
