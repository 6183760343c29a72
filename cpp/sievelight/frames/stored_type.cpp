// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/stored_type.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

namespace sievelight {
namespace {

struct Row {
  NumberKind kind;
  const char* name;
  std::size_t size;
  hid_t native, little, big;
};

}  // namespace

StoredType describe_type(hid_t type, const std::string& where) {
  const H5T_class_t family = H5Tget_class(type);
  const std::size_t size = H5Tget_size(type);
  const Row rows[] = {
      {NumberKind::i8, "int8", 1, H5T_NATIVE_SCHAR, H5T_STD_I8LE, H5T_STD_I8BE},
      {NumberKind::u8, "uint8", 1, H5T_NATIVE_UCHAR, H5T_STD_U8LE, H5T_STD_U8BE},
      {NumberKind::i16, "int16", 2, H5T_NATIVE_SHORT, H5T_STD_I16LE, H5T_STD_I16BE},
      {NumberKind::u16, "uint16", 2, H5T_NATIVE_USHORT, H5T_STD_U16LE, H5T_STD_U16BE},
      {NumberKind::i32, "int32", 4, H5T_NATIVE_INT, H5T_STD_I32LE, H5T_STD_I32BE},
      {NumberKind::u32, "uint32", 4, H5T_NATIVE_UINT, H5T_STD_U32LE, H5T_STD_U32BE},
      {NumberKind::i64, "int64", 8, H5T_NATIVE_LLONG, H5T_STD_I64LE, H5T_STD_I64BE},
      {NumberKind::u64, "uint64", 8, H5T_NATIVE_ULLONG, H5T_STD_U64LE, H5T_STD_U64BE},
      {NumberKind::f32, "float32", 4, H5T_NATIVE_FLOAT, H5T_IEEE_F32LE, H5T_IEEE_F32BE},
      {NumberKind::f64, "float64", 8, H5T_NATIVE_DOUBLE, H5T_IEEE_F64LE, H5T_IEEE_F64BE},
  };
  for (const Row& row : rows)
    if (H5Tequal(type, row.little) > 0 || H5Tequal(type, row.big) > 0) {
      const bool native = H5Tequal(type, row.native) > 0;
      return {row.kind, row.name, row.size, true, row.size > 1 && !native, row.native};
    }
  // An unusual layout (half precision, 24-bit integers): HDF5 converts it to the next larger type.
  const bool number = family == H5T_INTEGER || family == H5T_FLOAT;
  const bool is_signed = H5Tget_sign(type) == H5T_SGN_2;
  for (const Row& row : rows) {
    const bool is_float = row.kind == NumberKind::f32 || row.kind == NumberKind::f64;
    const bool row_signed = row.kind == NumberKind::i8 || row.kind == NumberKind::i16 || row.kind == NumberKind::i32 ||
                            row.kind == NumberKind::i64;
    if (number && is_float == (family == H5T_FLOAT) && (is_float || row_signed == is_signed) && row.size >= size)
      return {row.kind, row.name, row.size, false, false, row.native};
  }
  throw DataError(fmt::format("{} does not hold integers or floating-point numbers of at most 8 bytes.", where),
                  "Name the data set of the detector's counts with the option dataset.");
}

}  // namespace sievelight
