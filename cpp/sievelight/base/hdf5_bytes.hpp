// SPDX-License-Identifier: GPL-3.0-or-later
/// HDF5 files made in memory. HDF5 writes its caches when a file is closed, where a full disk is easily overlooked; so
/// the library hands over the finished bytes, and write_whole() puts them on the disk.
#pragma once

#include "sievelight/base/hdf5.hpp"

#include <string>

namespace sievelight {

/// A new file that has no place on the disk. NumericalError where there is no memory for it.
H5Handle h5_in_memory();
/// The file as it stands, byte for byte what HDF5 would have on the disk.
std::string h5_bytes(const H5Handle& file);

}  // namespace sievelight
