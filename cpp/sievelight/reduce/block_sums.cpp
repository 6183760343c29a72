// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/block_sums.hpp"

#include <algorithm>

namespace sievelight {

std::vector<Eigen::Index> pixel_blocks(Eigen::Index rows, Eigen::Index columns) {
  constexpr Eigen::Index most_blocks = 16, small_frame = 200000;  // below, one block serves
  const Eigen::Index blocks = rows * columns < small_frame ? 1 : std::min(rows, most_blocks);
  std::vector<Eigen::Index> out;
  for (Eigen::Index b = 0; b <= blocks; ++b) out.push_back(rows * b / blocks * columns);
  return out;
}

}  // namespace sievelight
