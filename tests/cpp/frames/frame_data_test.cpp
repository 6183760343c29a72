// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame_data.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace sievelight {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();

// Every layout must give the sum of the exposures asked for, to the last count.
TEST(FrameData, AddsTheExposuresOfEveryLayout) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "stack.h5");
  const hsize_t count = 5, rows = 19, columns = 23;
  const std::vector<double> values = ramp(count * rows * columns);
  const std::vector<Storage> layouts{{H5T_STD_I32LE, {}, false, 0},           {H5T_STD_U16BE, {}, false, 0},
                                     {H5T_STD_I32BE, {1, 19, 23}, true, 4},   {H5T_STD_U8LE, {2, 8, 8}, true, 1},
                                     {H5T_IEEE_F32LE, {5, 19, 23}, false, 4}, {H5T_STD_I64BE, {3, 7, 23}, false, 0}};
  int number = 0;
  for (const Storage& layout : layouts) {
    const std::string name = "/x" + std::to_string(number++);
    write_numbers(file.get(), name, {count, rows, columns}, values, layout);
    const FrameData data(file.get(), "stack.h5", name);
    ASSERT_EQ(data.count(), 5);
    for (const std::vector<Eigen::Index>& wanted :
         {std::vector<Eigen::Index>{0}, {3}, {4}, {1, 2}, {0, 4}, {0, 1, 2, 3, 4}}) {
      Image counts = Image::Zero(19, 23), expected = counts;
      Mask masked = Mask::Constant(19, 23, false);
      data.sum(wanted, never, counts, masked);
      for (const Eigen::Index k : wanted) expected += Eigen::Map<const Image>(values.data() + k * 19 * 23, 19, 23);
      EXPECT_TRUE((counts == expected).all()) << name << ", " << wanted.size() << " frames from " << wanted[0];
      EXPECT_FALSE(masked.any());
    }
  }
}

TEST(FrameData, RefusesWrongShapes) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "shapes.h5");
  write_numbers(file.get(), "four", {2, 1, 2, 2}, ramp(8), {H5T_STD_I32LE, {}});
  write_numbers(file.get(), "empty", {0, 2, 2}, ramp(8), {H5T_STD_I32LE, {}});
  const auto words = [&](const char* name) {
    return refusal<DataError>([&] { FrameData(file.get(), "shapes.h5", name); });
  };
  EXPECT_NE(words("four").find("'four' in 'shapes.h5' has 4 dimensions (2 x 1 x 2 x 2)"), std::string::npos);
  EXPECT_NE(words("empty").find("is empty (0 x 2 x 2)"), std::string::npos);
  EXPECT_NE(words("none").find("There is no data set 'none'"), std::string::npos);
}

// A header may claim any size; no memory must be asked for.
TEST(FrameData, RefusesAbsurdSizes) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "huge.h5");
  make_numbers(file.get(), "x", {hsize_t{1} << 20, hsize_t{1} << 20}, {H5T_STD_I32LE, {16, 16}});
  EXPECT_NE(refusal<DataError>([&] { FrameData(file.get(), "huge.h5", "x"); }).find("claims 1048576 x 1048576 pixels"),
            std::string::npos);
}

// Exposures that share chunks are decoded together, which must not ask for more than the stored bytes can hold.
TEST(FrameData, RefusesChunksOfTooManyExposures) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "deep.h5");
  const H5Handle set = make_numbers(file.get(), "x", {50000, 32, 32}, {H5T_STD_I32LE, {50000, 4, 4}, false, 4});
  const hsize_t origin[3] = {};
  const std::string raw(100, 'x');
  H5Dwrite_chunk(set.get(), H5P_DEFAULT, 0, origin, raw.size(), raw.data());
  EXPECT_NE(refusal<DataError>([&] { FrameData(file.get(), "deep.h5", "x"); }).find("claims 204800000 bytes"),
            std::string::npos);
}

TEST(FrameData, RefusesStacksThatTheStoredBytesCannotHold) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "long.h5");
  const auto words = [&](const std::vector<hsize_t>& dims, const H5Handle& properties, bool write) {
    const H5Handle space(H5Screate_simple(static_cast<int>(dims.size()), dims.data(), nullptr), H5Sclose);
    {
      const H5Handle set(
          H5Dcreate2(file.get(), "x", H5T_STD_I32LE, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT),
          H5Dclose);
      const std::string raw(64, '\0');
      const hsize_t origin[3] = {};
      if (write) H5Dwrite_chunk(set.get(), H5P_DEFAULT, 0, origin, raw.size(), raw.data());
    }
    const std::string said = refusal<DataError>([&] { FrameData(file.get(), "long.h5", "x"); });
    H5Ldelete(file.get(), "x", H5P_DEFAULT);
    return said;
  };
  const H5Handle chunked(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
  const hsize_t chunk[3] = {1, 4, 4};
  H5Pset_chunk(chunked.get(), 3, chunk);
  EXPECT_EQ(words({60000, 4, 4}, chunked, true), "accepted");  // planned, and stopped after the first exposure
  EXPECT_NE(words({1 << 20, 4, 4}, chunked, true).find("claims 1048576 exposures and holds 64 bytes"),
            std::string::npos);
  // Of a virtual frame nearly nothing is stored in the data set that it takes from.
  write_numbers(file.get(), "part", {4}, ramp(4), {H5T_STD_I32LE, {}});
  H5Fflush(file.get(), H5F_SCOPE_GLOBAL);
  const H5Handle drawn(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
  const hsize_t whole[2] = {8192, 8192}, start[2] = {0, 0}, some[2] = {1, 4}, four = 4;
  const H5Handle to(H5Screate_simple(2, whole, nullptr), H5Sclose), from(H5Screate_simple(1, &four, nullptr), H5Sclose);
  H5Sselect_hyperslab(to.get(), H5S_SELECT_SET, start, nullptr, some, nullptr);
  H5Pset_virtual(drawn.get(), to.get(), ".", "/part", from.get());
  const std::string said = words({8192, 8192}, drawn, false);
  EXPECT_NE(said.find("claims 268435456 bytes of numbers, and 16 are stored"), std::string::npos) << said;
}

TEST(FrameData, NamesAFrameThatWasNeverWritten) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "early.h5");
  const hsize_t dims[3] = {4, 6, 6}, chunk[3] = {1, 6, 6}, one[3] = {1, 6, 6}, start[3] = {0, 0, 0};
  const H5Handle space(H5Screate_simple(3, dims, nullptr), H5Sclose),
      memory(H5Screate_simple(3, one, nullptr), H5Sclose);
  const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
  H5Pset_chunk(properties.get(), 3, chunk);
  const H5Handle set(
      H5Dcreate2(file.get(), "x", H5T_STD_I32LE, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT), H5Dclose);
  H5Sselect_hyperslab(space.get(), H5S_SELECT_SET, start, nullptr, one, nullptr);
  H5Dwrite(set.get(), H5T_NATIVE_DOUBLE, memory.get(), space.get(), H5P_DEFAULT, ramp(36).data());
  H5Dflush(set.get());
  const FrameData data(file.get(), "early.h5", "x");
  Image counts = Image::Zero(6, 6);
  Mask masked = Mask::Constant(6, 6, false);
  EXPECT_NO_THROW(data.sum({0}, never, counts, masked));
  EXPECT_NE(
      refusal<DataError>([&] { data.sum({2}, never, counts, masked); }).find("Frame 2 of 'early.h5' was never written"),
      std::string::npos);
}

TEST(FrameData, RefusesWhatWasNeverWritten) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "never.h5");
  const hsize_t dims[2] = {6, 8};
  const H5Handle space(H5Screate_simple(2, dims, nullptr), H5Sclose);
  {
    H5Handle(H5Dcreate2(file.get(), "x", H5T_STD_I32LE, space.get(), H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT), H5Dclose);
  }
  EXPECT_NE(refusal<DataError>([&] { FrameData(file.get(), "never.h5", "x"); }).find("was never written"),
            std::string::npos);
}

TEST(FrameData, NamesTheFrameThatCannotBeDecoded) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "broken.h5");
  write_numbers(file.get(), "x", {3, 8, 8}, ramp(192), {H5T_STD_I32LE, {1, 8, 8}, false, 4});
  {
    const H5Handle set = h5_dataset(file.get(), "x");
    const hsize_t offset[3] = {1, 0, 0};
    H5Dwrite_chunk(set.get(), H5P_DEFAULT, 0, offset, 10, "not gzip..");
    H5Dflush(set.get());
  }
  const FrameData data(file.get(), "broken.h5", "x");
  Image counts = Image::Zero(8, 8);
  Mask masked = Mask::Constant(8, 8, false);
  const std::string words = refusal<DataError>([&] { data.sum({0, 1, 2}, never, counts, masked); });
  EXPECT_NE(words.find("Frame 1 of 'broken.h5' cannot be decoded (gzip)"), std::string::npos) << words;
}

}  // namespace
}  // namespace sievelight
