// SPDX-License-Identifier: GPL-3.0-or-later
/// Undoing bitshuffle: from planes of bits back to numbers.
/// A block of n elements (a multiple of 8) of s bytes is stored as 8 s planes of n/8 bytes; plane 8 b + k holds bit k
/// of byte b of every element, element e at bit e mod 8 of byte e / 8. Counts are small, so most planes are zero: those
/// cost nothing but a look. The vector versions give the same bytes as the portable one.
#pragma once

#include <cstddef>

namespace sievelight {

/// Writes the n elements of `size` bytes to `out`.
void planes_to_elements(const unsigned char* planes, std::size_t n, std::size_t size, unsigned char* out);

/// For elements of 4 bytes in the machine's (little-endian) order: writes them with 1, 2 or 4 bytes each, whatever the
/// block's largest number needs, and returns that width. `out` has room for 4 n bytes.
std::size_t planes_to_narrow(const unsigned char* planes, std::size_t n, unsigned char* out);

}  // namespace sievelight
