// SPDX-License-Identifier: GPL-3.0-or-later
/// Files of frames for the tests of the folder.
#pragma once

#include "sievelight/base/hdf5.hpp"
#include "support/refusal.hpp"

#include <string>
#include <vector>

namespace sievelight {

/// How write_numbers() stores them; a chunk of no dimensions means contiguous.
struct Storage {
  hid_t type = -1;
  std::vector<hsize_t> chunk;
  bool shuffle = false;
  int gzip = 0;
};

/// A data set without numbers yet.
inline H5Handle make_numbers(hid_t where, const std::string& name, const std::vector<hsize_t>& shape,
                             const Storage& storage) {
  const H5Handle space(H5Screate_simple(static_cast<int>(shape.size()), shape.data(), nullptr), H5Sclose);
  const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
  if (!storage.chunk.empty())
    H5Pset_chunk(properties.get(), static_cast<int>(storage.chunk.size()), storage.chunk.data());
  if (storage.shuffle) H5Pset_shuffle(properties.get());
  if (storage.gzip > 0) H5Pset_deflate(properties.get(), static_cast<unsigned>(storage.gzip));
  return {H5Dcreate2(where, name.c_str(), storage.type, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT),
          H5Dclose};
}

/// Writes a data set of doubles as `storage.type` (HDF5 converts).
inline void write_numbers(hid_t where, const std::string& name, const std::vector<hsize_t>& shape,
                          const std::vector<double>& values, const Storage& storage) {
  const H5Handle set = make_numbers(where, name, shape, storage);
  H5Dwrite(set.get(), H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data());
}

/// 0, 1, 2, ... modulo `period`.
inline std::vector<double> ramp(std::size_t n, std::size_t period = 97) {
  std::vector<double> out(n);
  for (std::size_t i = 0; i < n; ++i) out[i] = static_cast<double>(i % period);
  return out;
}

/// A numeric field with a unit (none when empty).
inline void write_field(hid_t where, const std::string& name, double value, const std::string& unit = "") {
  h5_write(where, name, value, unit);
}

}  // namespace sievelight
