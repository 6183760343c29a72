// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_probe.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cstdlib>

namespace sievelight {
namespace {

// A sound file with a text attribute; its text stands in a heap ("GCOL") whose first object begins 16 bytes on:
// index, references, reserved, and in its bytes 8 to 16 the size (HDF5 file format, III.E).
std::string file_with_text(const std::string& path) {
  {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(path);
    const H5Handle group = h5_make_group(file.get(), "entry", "NXentry");
    h5_write(group.get(), "distance", 0.6, "m");
  }
  return read_bytes(path);
}

std::string words(const std::string& path) {
  return refusal<DataError>([&] { h5_open(path); });
}

// Found by fuzzing: HDF5 1.10 copies as many bytes out of a heap as the object claims.
TEST(Hdf5Probe, AFileThatCrashesTheLibraryIsRefused) {
  const Scratch scratch;
  std::string bytes = file_with_text(scratch / "x.h5");
  EXPECT_EQ(words(scratch / "x.h5"), "accepted");
  const auto heap = bytes.find("GCOL");
  ASSERT_NE(heap, std::string::npos);
  bytes[heap + 16 + 8 + 3] = '\x7f';  // two gigabytes
  write_bytes(scratch / "bad.h5", bytes);
  EXPECT_NE(words(scratch / "bad.h5").find("the HDF5 library crashes at it"), std::string::npos)
      << words(scratch / "bad.h5");
  // Each time again, and no other file suffers.
  EXPECT_NE(words(scratch / "bad.h5"), "accepted");
  EXPECT_EQ(words(scratch / "x.h5"), "accepted");
}

TEST(Hdf5Probe, AChangedFileIsLookedAtAgain) {
  const Scratch scratch;
  std::string bytes = file_with_text(scratch / "x.h5");
  EXPECT_EQ(words(scratch / "x.h5"), "accepted");
  bytes[bytes.find("GCOL") + 16 + 8 + 3] = '\x7f';
  write_bytes(scratch / "x.h5", bytes);
  EXPECT_NE(words(scratch / "x.h5"), "accepted");
}

// A copy that looked at further files through copies of its own would never end here.
TEST(Hdf5Probe, AFileThatTakesFromItselfIsLookedAtOnce) {
  const Scratch scratch;
  {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(scratch / "x.h5");
    const hsize_t n = 4;
    const H5Handle space(H5Screate_simple(1, &n, nullptr), H5Sclose);
    const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    H5Pset_virtual(properties.get(), space.get(), "x.h5", "/loop", space.get());
    const H5Handle set(
        H5Dcreate2(file.get(), "loop", H5T_STD_I32LE, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT),
        H5Dclose);
    H5Lcreate_external("x.h5", "/", file.get(), "again", H5P_DEFAULT, H5P_DEFAULT);
  }
  EXPECT_EQ(words(scratch / "x.h5"), "accepted");
}

TEST(Hdf5Probe, CanBeSwitchedOff) {
  const Scratch scratch;
  std::string bytes = file_with_text(scratch / "x.h5");
  bytes[bytes.find("GCOL") + 16 + 8 + 3] = '\x7f';
  write_bytes(scratch / "bad.h5", bytes);
  ::setenv("SIEVELIGHT_HDF5_PROBE", "off", 1);
  EXPECT_EQ(words(scratch / "bad.h5"), "accepted");  // opened, and nothing read
  ::unsetenv("SIEVELIGHT_HDF5_PROBE");
}

}  // namespace
}  // namespace sievelight
