// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/dead_time_table.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/every_cpu.hpp"

#include <cstdint>

namespace sievelight {
namespace {

// 128 KB: the table stays in a core's second cache beside the sums.
constexpr std::size_t most_entries = 4096;

// n tau/t up to which the quadratic term alone is used: the next is (n tau/t)^2 of the counts, 3/2 of it for the
// paralysable counter, and at most 5 of the variance. Both models share the quadratic term.
constexpr double quadratic_load = 8e-7;
constexpr std::size_t most_quadratic = 1024;

// Makes doubles the numbers of their entries; false when one is negative, fractional, none at all or not below `size`.
SIEVELIGHT_EVERY_CPU bool places_of(const double* recorded, std::size_t n, double size, std::int32_t* places) {
  constexpr double round = 4503599627370496.0;  // 2^52: adding it leaves no fraction
  std::int64_t good = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double x = recorded[i];
    good += x >= 0 && x < size && (x + round) - round == x ? std::int64_t{1} : std::int64_t{0};
  }
  if (good != static_cast<std::int64_t>(n)) return false;
  for (std::size_t i = 0; i < n; ++i) places[i] = static_cast<std::int32_t>(recorded[i]);
  return true;
}

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
    return;  // no more are possible with this dead time: a pixel that holds one is refused when it is met
  }
}

DeadTimeTable::Entry DeadTimeTable::operator()(double recorded) const {
  const TrueCounts value = correct_dead_time(recorded, exposure_s_, dead_time_);
  return {recorded, value.counts, value.variance, value.per_dead_time};
}

bool DeadTimeTable::add_common(const double* recorded, std::size_t n, double* counts, double* variance) const {
  std::int32_t places[most_common];
  if (!places_of(recorded, n, static_cast<double>(size()), places)) return false;
  for (std::size_t i = 0; i < n; ++i) {
    const Entry& entry = entries_[static_cast<std::size_t>(places[i])];
    counts[i] += entry.counts;
    variance[i] += entry.variance;
  }
  return true;
}

DeadTimeTable::Entry DeadTimeTable::of_moments(double sum, double square) const {
  const double extra = square * (dead_time_.dead_time_s / exposure_s_);
  return {sum, sum + extra, sum + 2 * extra, square / exposure_s_};
}

}  // namespace sievelight
