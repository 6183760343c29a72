// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_bytes.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

namespace sievelight {
namespace {

constexpr std::size_t grow_by = std::size_t{1} << 18;

void require(bool good) {
  if (!good) throw NumericalError("HDF5 could not make a file in memory.", "Free some memory and try again.");
}

}  // namespace

H5Handle h5_in_memory() {
  const auto lock = hdf5_lock();
  const H5Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose);
  require(H5Pset_fapl_core(access.get(), grow_by, false) >= 0);
  // The name is for HDF5 alone, which tells files in memory apart by it; nothing is looked for under it.
  static int number = 0;
  H5Handle file(H5Fcreate(fmt::format("in memory {}", ++number).c_str(), H5F_ACC_TRUNC, H5P_DEFAULT, access.get()),
                H5Fclose);
  require(bool(file));
  return file;
}

std::string h5_bytes(const H5Handle& file) {
  const auto lock = hdf5_lock();
  require(H5Fflush(file.get(), H5F_SCOPE_GLOBAL) >= 0);
  const ssize_t size = H5Fget_file_image(file.get(), nullptr, 0);
  require(size > 0);
  std::string bytes(static_cast<std::size_t>(size), '\0');
  require(H5Fget_file_image(file.get(), bytes.data(), bytes.size()) == size);
  return bytes;
}

}  // namespace sievelight
