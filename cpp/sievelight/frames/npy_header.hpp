// SPDX-License-Identifier: GPL-3.0-or-later
/// The header of an NPY file: one array, with its type, its order and its shape. Versions 1, 2 and 3.
/// Source: NumPy Enhancement Proposal 1, "A simple file format for NumPy arrays", and numpy.lib.format.
/// Arrays of Python objects hold code that runs when they are loaded: they are refused unread.
#pragma once

#include "sievelight/frames/stored_type.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace sievelight {

struct NpyHeader {
  StoredType type;
  bool truth = false;  // booleans, stored as uint8
  bool fortran = false;
  std::vector<std::uint64_t> shape;
  std::uint64_t offset = 0;  // of the first number in the file
  bool operator==(const NpyHeader& other) const;
};

/// DataError when the header is not one, when the array holds no plain numbers, or when the file has not the length
/// that its shape and type need.
NpyHeader read_npy_header(const std::string& path);

}  // namespace sievelight
