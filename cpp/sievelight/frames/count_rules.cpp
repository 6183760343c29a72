// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/count_rules.hpp"

#include "sievelight/base/every_cpu.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <type_traits>

namespace sievelight {
namespace {

constexpr double exact_limit = 9007199254740992.0;  // 2^53

template <typename T>
T load(const unsigned char* at, bool swapped) {
  unsigned char bytes[sizeof(T)];
  std::memcpy(bytes, at, sizeof(T));
  if (swapped) std::reverse(bytes, bytes + sizeof(T));
  return std::bit_cast<T>(bytes);
}

template <typename T>
constexpr T first_marker() {
  if constexpr (std::is_unsigned_v<T> && sizeof(T) >= 4) return std::numeric_limits<T>::max() - 1;
  return std::numeric_limits<T>::max();
}

// Numbers in [0, limit) are counts.
template <typename T>
T limit_for(double saturation) {
  const double top = std::min(static_cast<double>(first_marker<T>()), exact_limit);
  if (!(saturation < top)) return sizeof(T) == 8 ? static_cast<T>(top) : first_marker<T>();
  return static_cast<T>(std::ceil(std::max(saturation, 0.0)));
}

template <typename T>
void classify(T value, double& count, CountTally& tally) {
  if (value < 0 || value >= first_marker<T>() || static_cast<double>(value) >= exact_limit) {
    ++tally.markers;
  } else {
    ++tally.saturated;
    count += static_cast<double>(value);
  }
}

// The common case touches each number once, without branches; rows with something to catch are walked again.
template <typename T>
void add_integers(const unsigned char* stored, std::size_t n, bool swapped, double saturation, double* counts,
                  bool* masked, CountTally& tally) {
  using Unsigned = std::make_unsigned_t<T>;
  const Unsigned limit = static_cast<Unsigned>(limit_for<T>(saturation));
  std::size_t caught = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const T value = load<T>(stored + i * sizeof(T), swapped);
    // A negative number is a huge one here, so one comparison does for both ends.
    const bool good = static_cast<Unsigned>(value) < limit;
    counts[i] += good ? static_cast<double>(value) : 0.0;
    masked[i] |= !good;
    caught += !good;
  }
  if (caught == 0) return;
  for (std::size_t i = 0; i < n; ++i) {
    const T value = load<T>(stored + i * sizeof(T), swapped);
    if (static_cast<Unsigned>(value) >= limit) classify(value, counts[i], tally);
  }
}

template <typename T>
void add_floats(const unsigned char* stored, std::size_t n, bool swapped, double saturation, double* counts,
                bool* masked, CountTally& tally) {
  for (std::size_t i = 0; i < n; ++i) {
    const double value = load<T>(stored + i * sizeof(T), swapped);
    const bool finite = std::isfinite(value) && std::abs(value) < exact_limit;
    const bool whole = finite && static_cast<double>(static_cast<std::int64_t>(value)) == value;
    if (finite && value >= 0) {
      counts[i] += value;
      tally.fractional += !whole;
      if (value < saturation) continue;
      ++tally.saturated;
    } else if (!finite) {
      ++tally.not_finite;
    } else {
      ++(whole ? tally.markers : tally.negative_fractional);
    }
    masked[i] = true;
  }
}

}  // namespace

CountTally& CountTally::operator+=(const CountTally& other) {
  saturated += other.saturated;
  markers += other.markers;
  not_finite += other.not_finite;
  negative_fractional += other.negative_fractional;
  fractional += other.fractional;
  return *this;
}

std::uint64_t count_limit(NumberKind kind, double saturation) {
  return with_number(kind, [&](auto zero) {
    using T = decltype(zero);
    if constexpr (std::is_floating_point_v<T>)
      return std::uint64_t{0};
    else
      return static_cast<std::uint64_t>(limit_for<T>(saturation));
  });
}

void add_counts(const StoredType& type, const unsigned char* stored, std::size_t n, double saturation, double* counts,
                bool* masked, CountTally& tally) {
  with_number(type.kind, [&](auto zero) {
    using T = decltype(zero);
    if constexpr (std::is_floating_point_v<T>)
      add_floats<T>(stored, n, type.swapped, saturation, counts, masked, tally);
    else if (type.swapped)
      add_integers<T>(stored, n, true, saturation, counts, masked, tally);
    else
      add_integers<T>(stored, n, false, saturation, counts, masked, tally);
  });
}

SIEVELIGHT_EVERY_CPU bool all_counts(const double* numbers, std::ptrdiff_t n) {
  // Counted in 64-bit numbers, as wide as the doubles: this the compiler turns into vector instructions.
  std::int64_t good = 0;
  for (std::ptrdiff_t i = 0; i < n; ++i)
    good += numbers[i] >= 0 && numbers[i] <= std::numeric_limits<double>::max() ? std::int64_t{1} : std::int64_t{0};
  return good == n;
}

std::vector<std::string> describe(const CountTally& tally, double saturation) {
  std::vector<std::string> notes;
  if (tally.saturated > 0)
    notes.push_back(
        fmt::format("{} numbers at or above the saturation value {:g} masked", tally.saturated, saturation));
  if (tally.markers > 0)
    notes.push_back(
        fmt::format("{} markers of gaps or defects masked (negative, or the type's largest number)", tally.markers));
  if (tally.not_finite > 0) notes.push_back(fmt::format("{} numbers that are not finite masked", tally.not_finite));
  if (tally.fractional > 0)
    notes.push_back(
        fmt::format("{} numbers are not whole: these are no raw counts, and counting statistics hold only nearly",
                    tally.fractional));
  return notes;
}

}  // namespace sievelight
