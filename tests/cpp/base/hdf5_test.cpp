// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5.hpp"

#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <thread>

namespace sievelight {
namespace {

void write_some(const std::string& path) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(path);
  const H5Handle group = h5_make_group(file.get(), "entry", "NXentry");
  h5_write_attribute(group.get(), "default", std::string("data"));
  h5_write_attribute(group.get(), "axes", std::vector<std::string>{"time", "y"});
  h5_write_text(group.get(), "title", "größer");
  h5_write_text(group.get(), "empty", "");
  h5_write(group.get(), "distance", 0.1 + 0.2, "mm");
  h5_write(group.get(), "q", Eigen::VectorXd(Eigen::VectorXd::LinSpaced(5, 0.1, 0.7)), "1/nm");
  Eigen::MatrixXd matrix(2, 3);
  matrix << 1, 2, 3, 4, 5, 6;
  h5_write(group.get(), "matrix", matrix);
}

TEST(Hdf5, ReadsBackWhatItWrote) {
  const Scratch scratch;
  write_some(scratch / "some.h5");
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(scratch / "some.h5");
  const H5Handle group = h5_group(file.get(), "/entry");
  ASSERT_TRUE(group);
  EXPECT_EQ(h5_attribute(group.get(), "NX_class"), "NXentry");
  EXPECT_EQ(h5_attribute_list(group.get(), "axes"), (std::vector<std::string>{"time", "y"}));
  EXPECT_EQ(h5_text(group.get(), "title"), "größer");
  EXPECT_EQ(h5_text(group.get(), "empty"), "");
  EXPECT_EQ(h5_numbers(group.get(), "distance")->coeff(0), 0.1 + 0.2);
  EXPECT_EQ(*h5_numbers(file.get(), "entry/q"), Eigen::VectorXd(Eigen::VectorXd::LinSpaced(5, 0.1, 0.7)));
  const H5Handle set = h5_dataset(group.get(), "matrix");
  EXPECT_EQ(h5_shape(set.get()), (std::vector<hsize_t>{2, 3}));
  EXPECT_EQ(*h5_numbers(group.get(), "matrix"), (Eigen::VectorXd(6) << 1, 2, 3, 4, 5, 6).finished());
  EXPECT_EQ(h5_children(group.get()), (std::vector<std::string>{"distance", "empty", "matrix", "q", "title"}));
}

TEST(Hdf5, AbsentThingsAreEmptyAndNotErrors) {
  const Scratch scratch;
  write_some(scratch / "some.h5");
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(scratch / "some.h5");
  EXPECT_FALSE(h5_group(file.get(), "nothing/here"));
  EXPECT_FALSE(h5_exists(file.get(), "entry/title/deeper"));
  EXPECT_TRUE(h5_exists(file.get(), "/entry/title"));
  EXPECT_FALSE(h5_dataset(file.get(), "entry"));
  EXPECT_EQ(h5_numbers(file.get(), "entry/title"), std::nullopt);
  EXPECT_EQ(h5_text(file.get(), "entry/q"), std::nullopt);
  EXPECT_EQ(h5_attribute(file.get(), "nothing"), std::nullopt);
}

// HDF5 can hide a time stamp, in whole seconds, in every data set; a study must come out the same to the last bit.
TEST(Hdf5, TheSameContentGivesTheSameBytesLater) {
  const Scratch scratch;
  write_some(scratch / "a.h5");
  std::this_thread::sleep_for(std::chrono::milliseconds(1100));
  write_some(scratch / "b.h5");
  EXPECT_EQ(read_bytes(scratch / "a.h5"), read_bytes(scratch / "b.h5"));
}

std::string refusal(const std::string& path) {
  try {
    h5_open(path);
  } catch (const DataError& error) {
    EXPECT_FALSE(error.mend().empty());
    return error.what();
  }
  return "accepted";
}

TEST(Hdf5, SaysWhyAFileDoesNotOpen) {
  const Scratch scratch;
  EXPECT_NE(refusal(scratch / "none.h5").find("There is no file"), std::string::npos);
  write_bytes(scratch / "text.h5", "q I sigma\n1 2 3\n");
  EXPECT_NE(refusal(scratch / "text.h5").find("is not an HDF5 file"), std::string::npos);
  write_bytes(scratch / "empty.h5", "");
  EXPECT_NE(refusal(scratch / "empty.h5").find("is not an HDF5 file"), std::string::npos);
  EXPECT_NE(refusal(scratch.folder()).find("is not an HDF5 file"), std::string::npos);
  write_some(scratch / "some.h5");
  const std::string whole = read_bytes(scratch / "some.h5");
  write_bytes(scratch / "half.h5", whole.substr(0, whole.size() / 2));
  EXPECT_NE(refusal(scratch / "half.h5").find("truncated or broken"), std::string::npos);
  EXPECT_THROW(h5_create(scratch / "no such folder/file.h5"), DataError);
}

// A header of a few hundred bytes may claim any size; reading must refuse before it allocates.
TEST(Hdf5, RefusesAbsurdSizesBeforeItAllocates) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  {
    const H5Handle file = h5_create(scratch / "huge.h5");
    const hsize_t dims[2] = {hsize_t{1} << 31, hsize_t{1} << 31};
    const H5Handle space(H5Screate_simple(2, dims, nullptr), H5Sclose);
    const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    const hsize_t chunk[2] = {16, 16};
    H5Pset_chunk(properties.get(), 2, chunk);
    const H5Handle set(
        H5Dcreate2(file.get(), "big", H5T_IEEE_F64LE, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT),
        H5Dclose);
    ASSERT_TRUE(set);
  }
  const H5Handle file = h5_open(scratch / "huge.h5");
  EXPECT_THROW(h5_numbers(file.get(), "big"), DataError);
}

}  // namespace
}  // namespace sievelight
