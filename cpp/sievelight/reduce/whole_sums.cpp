// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/whole_sums.hpp"

#include <algorithm>
#include <limits>

namespace sievelight {
namespace {

// Memory of the sums: most of a first cache of 32 KB, and of the counts by number: a part of the second one.
constexpr std::size_t sum_bytes = 36000, most_copies = 4, count_bytes = 140000, most_levels = 256;

}  // namespace

void WholeSums::begin(const Slots& slots, bool by_number) {
  slots_ = static_cast<std::size_t>(slots.bins() + 1);
  copies_ = by_number ? 1 : std::clamp<std::size_t>(sum_bytes / (slots_ * sizeof(std::uint64_t)), 1, most_copies);
  levels_ = 0;
  const bool fits = slots.most_pixels() <= std::numeric_limits<std::uint16_t>::max();
  for (std::size_t n = 16; by_number && fits && n <= most_levels && n * slots_ * sizeof(std::uint16_t) <= count_bytes;
       n *= 2)
    levels_ = n;
  sums_.assign(slots_ * copies_, 0);
  counted_.assign(slots_ * levels_, 0);
}

void WholeSums::join(const WholeSums& other) {
  for (std::size_t i = 0; i < sums_.size(); ++i) sums_[i] += other.sums_[i];
  for (std::size_t i = 0; i < counted_.size(); ++i)
    counted_[i] = static_cast<std::uint16_t>(counted_[i] + other.counted_[i]);
}

std::uint64_t WholeSums::sum(Eigen::Index bin) const {
  std::uint64_t out = 0;
  for (std::size_t c = 0; c < copies_; ++c) out += sums_[c * slots_ + static_cast<std::size_t>(bin)];
  return out;
}

}  // namespace sievelight
