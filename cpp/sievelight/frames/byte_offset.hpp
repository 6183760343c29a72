// SPDX-License-Identifier: GPL-3.0-or-later
/// The byte-offset compression of CBF: each number as its difference to the one before, in one byte where that will do;
/// -2^7 stands for "in two bytes", -2^15 there for "in four", -2^31 there for "in eight"; little-endian.
/// Source: A. P. Hammersley, H. J. Bernstein, J. D. Westbrook, International Tables for Crystallography G
/// (2005), 5.6.3.3 (from memory; held against the crystallographic union's own library in the tests).
#pragma once

#include "sievelight/frames/stored_type.hpp"

#include <span>
#include <vector>

namespace sievelight {

/// The first `n` numbers as `type` (an integer), in the machine's byte order. DataError when the bytes end before, or a
/// number does not fit its type.
std::vector<unsigned char> decode_byte_offset(std::span<const unsigned char> packed, std::size_t n,
                                              const StoredType& type);

}  // namespace sievelight
