// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_bytes.hpp"

#include "sievelight/base/write_whole.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

void fill(hid_t file) {
  const H5Handle entry = h5_make_group(file, "entry", "NXentry");
  const Eigen::VectorXd q = Eigen::VectorXd::LinSpaced(5000, 0.1, 2.0);
  h5_write(entry.get(), "q", q, "1/nm");
  h5_write_text(entry.get(), "title", "pores");
}

TEST(HDF5Bytes, ReadBackAsTheFileThatWasMade) {
  const Scratch scratch;
  const H5Handle file = h5_in_memory();
  fill(file.get());
  write_whole(scratch / "f.h5", h5_bytes(file));
  const H5Handle back = h5_open(scratch / "f.h5");
  const auto q = h5_numbers(h5_group(back.get(), "entry").get(), "q");
  ASSERT_TRUE(q);
  EXPECT_EQ(*q, Eigen::VectorXd::LinSpaced(5000, 0.1, 2.0));
}

TEST(HDF5Bytes, AreTheSameForTheSameContentAndLeaveNoFile) {
  const Scratch scratch;
  const auto before = std::filesystem::current_path();
  std::filesystem::current_path(scratch.folder());
  const H5Handle one = h5_in_memory(), two = h5_in_memory();
  fill(one.get());
  fill(two.get());
  EXPECT_EQ(h5_bytes(one), h5_bytes(two));
  std::filesystem::current_path(before);
  EXPECT_TRUE(std::filesystem::is_empty(scratch.folder()));
}

}  // namespace
}  // namespace sievelight
