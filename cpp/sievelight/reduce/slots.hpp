// SPDX-License-Identifier: GPL-3.0-or-later
/// The table of bins as the pass over the pixels reads it: as narrow as the number of bins allows, so that it stays in
/// the cache, and without a special value. Pixels of no bin feed a slot of their own behind the last bin, which nobody
/// looks at: no question has to be asked of a pixel. Neighbouring pixels fall into few different pairs of slots; those
/// have numbers of their own, so that two counts are added in one step (whole_sums.hpp).
#pragma once

#include "sievelight/reduce/bins.hpp"

#include <cstdint>
#include <utility>
#include <vector>

namespace sievelight {

class Slots {
 public:
  Slots() = default;
  explicit Slots(const BinTable& table);

  Eigen::Index bins() const { return bins_; }
  Eigen::Index pixels() const { return pixels_; }
  /// Pixels of the bin that holds most.
  Eigen::Index most_pixels() const { return most_pixels_; }
  /// Slot of the pixels that belong to no bin.
  Eigen::Index unused() const { return bins_; }
  Eigen::Index operator[](Eigen::Index pixel) const {
    return narrow_.size() == 0 ? static_cast<Eigen::Index>(wide_[pixel]) : static_cast<Eigen::Index>(narrow_[pixel]);
  }

  /// Calls `use` with a pointer to the slots, of 16-bit or 32-bit numbers.
  template <typename Use>
  decltype(auto) with(const Use& use) const {
    return narrow_.size() == 0 ? use(wide_.data()) : use(narrow_.data());
  }

  /// (pixels / 2) which pair the pixels 2 j and 2 j + 1 are; null when there are too many different ones.
  const std::uint16_t* pairs() const { return pairs_.size() == 0 ? nullptr : pairs_.data(); }
  /// The two slots of each pair.
  const std::vector<std::pair<std::uint32_t, std::uint32_t>>& pair_slots() const { return pair_slots_; }

 private:
  template <typename Number>
  using Numbers = Eigen::Array<Number, Eigen::Dynamic, 1>;

  template <typename Slot>
  void number_pairs(const Numbers<Slot>& slots);

  Eigen::Index bins_ = 0, pixels_ = 0, most_pixels_ = 0;
  Numbers<std::uint16_t> narrow_;
  Numbers<std::uint32_t> wide_;
  Numbers<std::uint16_t> pairs_;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> pair_slots_;
};

}  // namespace sievelight
