// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/whole_sums.hpp"

#include "sievelight/base/every_cpu.hpp"

#include <algorithm>
#include <bit>
#include <cstring>
#include <limits>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr std::uint64_t half = std::uint64_t{1} << 32;
// Copies of the moments: a sum need not wait for the last one.
constexpr std::size_t copies = 4;
// Memory of the counts by number, a part of a second cache, and the number beyond which none is common.
constexpr std::size_t count_bytes = 140000, most_levels = 256;

constexpr Index strip = 256;

// A number and its square, side by side.
SIEVELIGHT_EVERY_CPU void pack(const std::uint32_t* numbers, Index n, std::uint64_t* both) {
  for (Index i = 0; i < n; ++i) both[i] = numbers[i] | (std::uint64_t{numbers[i]} * numbers[i]) << 32;
}

}  // namespace

void WholeSums::begin(const Slots& slots, Way way, std::size_t levels) {
  table_ = &slots;
  way_ = way;
  slots_ = static_cast<std::size_t>(slots.bins() + 1);
  levels_ = 0;
  if (way == Way::moments) levels_ = levels;
  const bool fits = slots.most_pixels() <= std::numeric_limits<std::uint16_t>::max();
  for (std::size_t n = 16; way == Way::numbers && fits && n <= most_levels && n * slots_ * 2 <= count_bytes; n *= 2)
    levels_ = n;
  sums_.assign(slots_, 0);
  squares_.assign(way == Way::moments ? slots_ : 0, 0);
  packed_.assign(way == Way::moments ? copies * slots_ : way == Way::sums ? slots.pair_slots().size() : 0, 0);
  largest_half_ = 0;
  counted_.assign(way == Way::numbers ? slots_ * levels_ : 0, 0);
}

void WholeSums::add(const std::uint32_t* numbers, Index first, Index n, std::uint32_t top) {
  const std::uint16_t* pairs = table_->pairs();
  const std::uint64_t most = std::uint64_t{top} * (strip / 2);
  if (!pairs || most >= half / 8 || way_ != Way::sums) {
    table_->with([&](const auto* slots) {
      for (Index i = 0; i < n; ++i) sums_[slots[first + i]] += numbers[i];
    });
    return;
  }
  if (largest_half_ + most >= half) share_pairs();
  largest_half_ += most;
  Index i = 0;
  if (first % 2 == 1) {  // the second of a pair
    sums_[static_cast<std::size_t>((*table_)[first])] += numbers[0];
    i = 1;
  }
  std::uint64_t* packed = packed_.data();
  pairs += (first + i) / 2;
  for (; i + 2 <= n; i += 2) {
    std::uint64_t two;
    std::memcpy(&two, numbers + i, sizeof two);
    packed[*pairs++] += two;
  }
  if (i < n) sums_[static_cast<std::size_t>((*table_)[first + i])] += numbers[i];
}

void WholeSums::add_few(const std::uint32_t* numbers, Index first, Index n, std::uint32_t top) {
  table_->with([&](const auto* slots) {
    slots += first;
    if (way_ == Way::numbers) {
      std::uint16_t* counted = counted_.data();
      for (Index i = 0; i < n; ++i) {
        std::uint16_t& pixels = counted[numbers[i] * slots_ + slots[i]];
        pixels = static_cast<std::uint16_t>(pixels + 1);
      }
      return;
    }
    reserve(top);
    std::uint64_t both[strip];
    pack(numbers, n, both);
    std::uint64_t *a = packed_.data(), *b = a + slots_, *c = b + slots_, *d = c + slots_;
    Index i = 0;
    for (; i + 4 <= n; i += 4) {
      const std::uint64_t* four = both + i;
      a[slots[i]] += four[0];
      b[slots[i + 1]] += four[1];
      c[slots[i + 2]] += four[2];
      d[slots[i + 3]] += four[3];
    }
    for (; i < n; ++i) a[slots[i]] += both[i];
  });
}

void WholeSums::reserve(std::uint64_t top) {
  if (way_ != Way::moments) return;
  const std::uint64_t most = top * top * strip;
  if (largest_half_ + most >= half) share_moments();
  largest_half_ += most;
}

void WholeSums::share_pairs() {
  const auto& slots = table_->pair_slots();
  // The pixel that stands first in memory is the lower half only where the lower byte comes first.
  constexpr bool low_first = std::endian::native == std::endian::little;
  for (std::size_t p = 0; p < packed_.size(); ++p) {
    const std::uint64_t low = packed_[p] % half, high = packed_[p] / half;
    sums_[slots[p].first] += low_first ? low : high;
    sums_[slots[p].second] += low_first ? high : low;
  }
  std::fill(packed_.begin(), packed_.end(), 0);
  largest_half_ = 0;
}

void WholeSums::share_moments() {
  for (std::size_t i = 0; i < packed_.size(); ++i) {
    sums_[i % slots_] += packed_[i] % half;
    squares_[i % slots_] += packed_[i] / half;
  }
  std::fill(packed_.begin(), packed_.end(), 0);
  largest_half_ = 0;
}

void WholeSums::end() {
  if (way_ == Way::sums) share_pairs();
  if (way_ == Way::moments) share_moments();
}

void WholeSums::join(const WholeSums& other) {
  for (std::size_t i = 0; i < sums_.size(); ++i) sums_[i] += other.sums_[i];
  for (std::size_t i = 0; i < squares_.size(); ++i) squares_[i] += other.squares_[i];
  for (std::size_t i = 0; i < counted_.size(); ++i)
    counted_[i] = static_cast<std::uint16_t>(counted_[i] + other.counted_[i]);
}

}  // namespace sievelight
