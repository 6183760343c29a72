// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slots.hpp"

#include "sievelight/base/parallel.hpp"

#include <limits>

namespace sievelight {
namespace {

using Eigen::Index;

template <typename Slot>
void fill(const BinIndex& index, Index bins, std::vector<Slot>& slots) {
  slots.resize(static_cast<std::size_t>(index.size()));
  parallel_for(static_cast<std::size_t>(index.rows()), [&](std::size_t row) {
    const std::int32_t* from = index.data() + static_cast<Index>(row) * index.cols();
    Slot* to = slots.data() + static_cast<Index>(row) * index.cols();
    for (Index i = 0; i < index.cols(); ++i) to[i] = static_cast<Slot>(from[i] < 0 ? bins : from[i]);
  });
}

}  // namespace

Slots::Slots(const BinTable& table)
    : bins_(table.pixels.size()), pixels_(table.index.size()), most_pixels_(table.pixels.maxCoeff()) {
  if (bins_ <= std::numeric_limits<std::uint16_t>::max())
    fill(table.index, bins_, narrow_);
  else
    fill(table.index, bins_, wide_);
}

}  // namespace sievelight
