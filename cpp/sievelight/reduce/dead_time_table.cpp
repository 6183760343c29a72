// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/dead_time_table.hpp"

#include "sievelight/base/error.hpp"

namespace sievelight {
namespace {

// 128 KB: the table stays in a core's second cache beside the sums.
constexpr std::size_t most_entries = 4096;

}  // namespace

DeadTimeTable::DeadTimeTable(const DeadTime& dead_time, double exposure_s)
    : dead_time_(dead_time), exposure_s_(exposure_s) {
  entries_.reserve(most_entries);
  try {
    for (std::size_t n = 0; n < most_entries; ++n) entries_.push_back((*this)(static_cast<double>(n)));
  } catch (const InputError&) {
    // Numbers from here on are not possible with this dead time: a pixel that holds one is refused when it is met.
  }
}

DeadTimeTable::Entry DeadTimeTable::operator()(double recorded) const {
  const TrueCounts value = correct_dead_time(recorded, exposure_s_, dead_time_);
  return {recorded, value.counts, value.variance, value.per_dead_time};
}

}  // namespace sievelight
