// SPDX-License-Identifier: GPL-3.0-or-later
/// Which stored numbers are counts, and adding them up.
/// Not counts, and masked: NaN and infinity; negative whole numbers (markers of gaps and defects); the largest number
/// that an integer type can hold (a marker or an overflow; for unsigned types of 32 bits and more also the one below:
/// both markers are common practice); 2^53 and more (a double no longer counts by one there); and, per exposure, what
/// is at or above the saturation value.
#pragma once

#include "sievelight/frames/stored_type.hpp"

#include <cstddef>
#include <cstdint>
#include <limits>
#include <string>
#include <vector>

namespace sievelight {

/// How many numbers each rule caught.
struct CountTally {
  std::size_t saturated = 0;            // at or above the saturation value
  std::size_t markers = 0;              // negative whole numbers and the type's largest
  std::size_t not_finite = 0;           // NaN or infinite
  std::size_t negative_fractional = 0;  // below zero and not whole: something was subtracted before
  std::size_t fractional = 0;           // above zero and not whole: averaged or scaled before
  CountTally& operator+=(const CountTally& other);
};

/// Whole numbers in [0, limit) of this kind are counts; 0 for floating-point kinds.
std::uint64_t count_limit(NumberKind kind, double saturation);

/// Adds `n` stored numbers of one exposure to `counts` and marks in `masked` those that are no counts. Markers and
/// what is not finite add nothing; a saturated number is added (the sum is then a lower limit) and masked.
void add_counts(const StoredType& type, const unsigned char* stored, std::size_t n, double saturation, double* counts,
                bool* masked, CountTally& tally);

/// Whether all are finite and at least zero.
bool all_counts(const double* numbers, std::ptrdiff_t n);

/// What was caught, in words; empty when nothing was.
std::vector<std::string> describe(const CountTally& tally, double saturation);

}  // namespace sievelight
