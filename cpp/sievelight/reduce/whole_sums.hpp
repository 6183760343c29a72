// SPDX-License-Identifier: GPL-3.0-or-later
/// Sums of whole numbers per slot, exact and therefore the same in whatever order the pixels come: each thread may
/// gather its own. Where a function of each pixel's number is wanted (the dead time), pixels with few counts are
/// counted by slot and number, and the function is looked up once for each pair that occurs instead of once a pixel.
#pragma once

#include "sievelight/reduce/slots.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace sievelight {

class WholeSums {
 public:
  /// Forgets everything and keeps the memory. `by_number`: count by slot and number, for numbers below levels().
  void begin(const Slots& slots, bool by_number);
  /// Adds the sums of another thread.
  void join(const WholeSums& other);

  /// Numbers below this are counted one by one; a power of two, 0 where the bins are too many for the cache
  /// or hold too many pixels.
  std::size_t levels() const { return levels_; }
  /// Adds numbers to the sums of their slots.
  template <typename T, typename Slot>
  void add(const T* numbers, const Slot* slots, Eigen::Index n);
  /// Counts pixels by their number, which is below levels().
  template <typename T, typename Slot>
  void count(const T* numbers, const Slot* slots, Eigen::Index n);

  /// Sum of the numbers of a bin, after joining.
  std::uint64_t sum(Eigen::Index bin) const;
  /// Pixels of every slot that hold `number`, below levels().
  const std::uint16_t* pixels(std::size_t number) const { return counted_.data() + number * slots_; }

 private:
  std::size_t slots_ = 0, levels_ = 0;
  std::size_t copies_ = 1;  // of the sums, used in turn: a sum need not wait for the last one
  std::vector<std::uint64_t> sums_;
  std::vector<std::uint16_t> counted_;  // by number, then slot: neighbours touch few lines of the cache
};

template <typename T, typename Slot>
void WholeSums::add(const T* numbers, const Slot* slots, Eigen::Index n) {
  std::uint64_t* a = sums_.data();
  std::uint64_t* b = copies_ > 1 ? a + slots_ : a;
  std::uint64_t* c = copies_ > 2 ? b + slots_ : a;
  std::uint64_t* d = copies_ > 2 ? c + slots_ : b;
  Eigen::Index i = 0;
  for (; i + 4 <= n; i += 4) {
    a[slots[i]] += numbers[i];
    b[slots[i + 1]] += numbers[i + 1];
    c[slots[i + 2]] += numbers[i + 2];
    d[slots[i + 3]] += numbers[i + 3];
  }
  for (; i < n; ++i) a[slots[i]] += numbers[i];
}

template <typename T, typename Slot>
void WholeSums::count(const T* numbers, const Slot* slots, Eigen::Index n) {
  std::uint16_t* counted = counted_.data();
  for (Eigen::Index i = 0; i < n; ++i) ++counted[numbers[i] * slots_ + slots[i]];
}

}  // namespace sievelight
