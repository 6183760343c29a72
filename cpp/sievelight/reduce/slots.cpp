// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slots.hpp"

#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/parallel.hpp"

#include <limits>
#include <unordered_map>

namespace sievelight {
namespace {

using Eigen::Index;

// Memory of one sum for each pair: beyond this the sums would not stay near the processor.
constexpr std::size_t most_pairs = 16000;
// Slots of neighbours differ by little, except at the edge of a mask: such pairs are looked up in a plain table.
constexpr std::int64_t near = 8;
constexpr std::size_t row_of = 2 * near + 1;
constexpr std::uint16_t none = std::numeric_limits<std::uint16_t>::max();

template <typename Slot>
void fill(const BinIndex& index, Index bins, Eigen::Array<Slot, Eigen::Dynamic, 1>& slots) {
  slots.resize(index.size());
  prefer_large_pages(slots);
  parallel_for(static_cast<std::size_t>(index.rows()), [&](std::size_t row) {
    const std::int32_t* from = index.data() + static_cast<Index>(row) * index.cols();
    Slot* to = slots.data() + static_cast<Index>(row) * index.cols();
    for (Index i = 0; i < index.cols(); ++i) to[i] = static_cast<Slot>(from[i] < 0 ? bins : from[i]);
  });
}

}  // namespace

template <typename Slot>
void Slots::number_pairs(const Numbers<Slot>& slots) {
  std::vector<std::uint16_t> close(static_cast<std::size_t>(bins_ + 1) * row_of, none);
  std::unordered_map<std::uint64_t, std::uint16_t> far;
  pairs_.resize(slots.size() / 2);
  for (Index j = 0; j < pairs_.size(); ++j) {
    const std::uint32_t a = slots[2 * j], b = slots[2 * j + 1];
    const std::int64_t apart = static_cast<std::int64_t>(b) - static_cast<std::int64_t>(a);
    const bool is_near = apart >= -near && apart <= near;
    std::uint16_t& number = is_near ? close[a * row_of + static_cast<std::size_t>(apart + near)]
                                    : far.try_emplace(std::uint64_t{a} << 32 | b, none).first->second;
    if (number == none) {
      if (pair_slots_.size() == most_pairs) {
        pairs_.resize(0);
        pair_slots_ = {};
        return;
      }
      number = static_cast<std::uint16_t>(pair_slots_.size());
      pair_slots_.emplace_back(a, b);
    }
    pairs_[j] = number;
  }
}

Slots::Slots(const BinTable& table)
    : bins_(table.pixels.size()), pixels_(table.index.size()), most_pixels_(table.pixels.maxCoeff()) {
  if (bins_ <= std::numeric_limits<std::uint16_t>::max()) {
    fill(table.index, bins_, narrow_);
    number_pairs(narrow_);
  } else {
    fill(table.index, bins_, wide_);
  }
}

}  // namespace sievelight
