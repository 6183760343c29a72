// SPDX-License-Identifier: GPL-3.0-or-later
/// The number type in which a file stores its counts.
#pragma once

#include <hdf5.h>

#include <cstddef>
#include <string>

namespace sievelight {

enum class NumberKind { i8, u8, i16, u16, i32, u32, i64, u64, f32, f64 };

struct StoredType {
  NumberKind kind = NumberKind::i32;
  std::string name;      // "int32", "uint16", "float64", ...
  std::size_t size = 4;  // bytes in memory
  bool plain = true;     // the file's bytes are this type's, in either byte order; false = HDF5 must convert them
  bool swapped = false;  // the file's byte order is not the machine's
  hid_t native = -1;     // HDF5's type in memory; never closed
};

/// Describes an HDF5 type. DataError naming `where` when it is not an integer or floating-point number of 1 to 8 bytes.
/// Hold hdf5_lock().
StoredType describe_type(hid_t type, const std::string& where);

/// Calls `use(T{})` with a value of the C++ type behind a kind.
template <typename Use>
decltype(auto) with_number(NumberKind kind, const Use& use) {
  switch (kind) {
    case NumberKind::i8:
      return use(static_cast<signed char>(0));
    case NumberKind::u8:
      return use(static_cast<unsigned char>(0));
    case NumberKind::i16:
      return use(static_cast<short>(0));
    case NumberKind::u16:
      return use(static_cast<unsigned short>(0));
    case NumberKind::i32:
      return use(0);
    case NumberKind::u32:
      return use(0u);
    case NumberKind::i64:
      return use(0ll);
    case NumberKind::u64:
      return use(0ull);
    case NumberKind::f32:
      return use(0.0f);
    case NumberKind::f64:
      break;
  }
  return use(0.0);
}

}  // namespace sievelight
