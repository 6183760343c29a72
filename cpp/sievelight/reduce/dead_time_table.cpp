// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/dead_time_table.hpp"

#include "sievelight/base/error.hpp"

namespace sievelight {
namespace {

// 128 KB: the table stays in a core's second cache beside the sums.
constexpr std::size_t most_entries = 4096;

// n tau/t up to which the quadratic term alone is used: the next is (n tau/t)^2 of the counts, 3/2 of it for the
// paralysable counter, and at most 5 of the variance. Both models share the quadratic term.
constexpr double quadratic_load = 8e-7;
constexpr std::size_t most_quadratic = 1024;

}  // namespace

DeadTimeTable::DeadTimeTable(const DeadTime& dead_time, double exposure_s)
    : dead_time_(dead_time), exposure_s_(exposure_s) {
  const double load = dead_time.dead_time_s / exposure_s;  // of one count
  quadratic_below_ =
      load > quadratic_load / most_quadratic ? static_cast<std::size_t>(quadratic_load / load) : most_quadratic;
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

DeadTimeTable::Entry DeadTimeTable::of_moments(double sum, double square) const {
  const double extra = square * (dead_time_.dead_time_s / exposure_s_);
  return {sum, sum + extra, sum + 2 * extra, square / exposure_s_};
}

}  // namespace sievelight
