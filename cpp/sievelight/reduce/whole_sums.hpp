// SPDX-License-Identifier: GPL-3.0-or-later
/// Sums of whole numbers per slot, exact and therefore the same in whatever order the pixels come: each thread may
/// gather its own. Three ways, by what is wanted:
/// - sums: of the numbers. Two neighbours are added at once, as the halves of a 64-bit number, to the sum of their pair
///   of slots; before a half can overflow, the pairs are shared out to the slots.
/// - moments: sum n and sum n^2 of the numbers below `levels()`, as the halves of a 64-bit number.
/// - numbers: how many pixels of a slot hold each number below `levels()`, for any function of the number.
#pragma once

#include "sievelight/reduce/slots.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace sievelight {

class WholeSums {
 public:
  enum class Way { sums, moments, numbers };

  /// Forgets everything and keeps the memory. `levels` is what moments should reach to; numbers find their own, 0 where
  /// the bins are too many for the cache or hold too many pixels.
  void begin(const Slots& slots, Way way, std::size_t levels = 0);
  Way way() const { return way_; }
  std::size_t levels() const { return levels_; }

  /// Adds a strip of `n` numbers, at most 256, from the pixel `first` on; `top` is the largest of them.
  void add(const std::uint32_t* numbers, Eigen::Index first, Eigen::Index n, std::uint32_t top);
  /// The same in the other two ways; all are below levels().
  void add_few(const std::uint32_t* numbers, Eigen::Index first, Eigen::Index n, std::uint32_t top);
  /// One number below levels() of a pixel in this slot, after reserve() for at most 256 of them.
  void add_one(std::uint32_t number, std::size_t slot) {
    if (way_ == Way::numbers)
      ++counted_[number * slots_ + slot];
    else
      packed_[slot] += number | (std::uint64_t{number} * number) << 32;
  }
  void reserve(std::uint64_t top);
  /// No more numbers come to this thread's sums.
  void end();
  /// Adds the sums of another thread, after both have ended.
  void join(const WholeSums& other);

  /// Of a bin: sum of the numbers (of those below levels() when moments are gathered), and of their squares.
  std::uint64_t sum(Eigen::Index bin) const { return sums_[static_cast<std::size_t>(bin)]; }
  std::uint64_t square(Eigen::Index bin) const { return squares_[static_cast<std::size_t>(bin)]; }
  /// Pixels of every slot that hold `number`, below levels().
  const std::uint16_t* pixels(std::size_t number) const { return counted_.data() + number * slots_; }

 private:
  void share_pairs();
  void share_moments();

  const Slots* table_ = nullptr;
  Way way_ = Way::sums;
  std::size_t slots_ = 0, levels_ = 0;
  std::vector<std::uint64_t> sums_, squares_;
  std::vector<std::uint64_t> packed_;   // two halves: by pair, or by slot in several copies used in turn
  std::uint64_t largest_half_ = 0;      // what a half may hold by now
  std::vector<std::uint16_t> counted_;  // by number, then slot: neighbours touch few lines of the cache
};

}  // namespace sievelight
