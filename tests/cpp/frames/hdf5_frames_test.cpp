// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/hdf5_frames.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/open.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

void write_detector(const std::string& path, const std::vector<hsize_t>& shape, const std::vector<double>& values,
                    const std::string& interpretation, const std::vector<hsize_t>& chunk = {}) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(path);
  h5_make_group(file.get(), "entry", "NXentry");
  h5_make_group(file.get(), "entry/detector", "NXdetector");
  write_numbers(file.get(), "/entry/detector/data", shape, values,
                {H5T_STD_I32LE, chunk, false, chunk.empty() ? 0 : 4});
  const H5Handle set = h5_dataset(file.get(), "/entry/detector/data");
  if (!interpretation.empty()) h5_write_attribute(set.get(), "interpretation", interpretation);
}

TEST(Hdf5Frames, OneDimensionIsAStrip) {
  const Scratch scratch;
  write_detector(scratch / "strip.h5", {7}, {1, 2, 3, 4, 5, 6, 7}, "");
  const FrameFile file(scratch / "strip.h5");
  EXPECT_EQ(file.format(), "HDF5");
  EXPECT_EQ(file.count(), 1);
  EXPECT_EQ(file.rows(), 1);
  EXPECT_EQ(file.columns(), 7);
  EXPECT_EQ(file.read(0).counts(0, 6), 7);
}

// NeXus manual, NXdata, attribute interpretation.
TEST(Hdf5Frames, TwoDimensionsAreAFrameUnlessTheFileSaysThatTheyAreStrips) {
  const Scratch scratch;
  const std::vector<double> values = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  for (const std::string said : {"", "image"}) {
    write_detector(scratch / "frame.h5", {2, 5}, values, said);
    const FrameFile file(scratch / "frame.h5");
    EXPECT_EQ(file.count(), 1);
    EXPECT_EQ(file.rows(), 2);
  }
  for (const std::vector<hsize_t>& chunk : {std::vector<hsize_t>{}, std::vector<hsize_t>{1, 3}}) {
    write_detector(scratch / "strips.h5", {2, 5}, values, "spectrum", chunk);
    const FrameFile file(scratch / "strips.h5");
    EXPECT_EQ(file.count(), 2);
    EXPECT_EQ(file.rows(), 1);
    EXPECT_EQ(file.columns(), 5);
    EXPECT_EQ(file.read(1).counts(0, 4), 10);
    EXPECT_EQ(file.read_sum().counts(0, 3), 4 + 9);
  }
}

TEST(Hdf5Frames, ASingleCounterIsAFrameOfOnePixel) {
  const Scratch scratch;
  write_detector(scratch / "point.h5", {}, {42}, "");
  EXPECT_EQ(FrameFile(scratch / "point.h5").read(0).counts(0, 0), 42);
  write_detector(scratch / "scan.h5", {4}, {1, 2, 3, 4}, "scalar");
  const FrameFile scan(scratch / "scan.h5");
  EXPECT_EQ(scan.count(), 4);
  EXPECT_EQ(scan.columns(), 1);
  EXPECT_EQ(scan.read(2).counts(0, 0), 3);
  EXPECT_EQ(scan.read_sum().counts(0, 0), 10);
}

}  // namespace
}  // namespace sievelight
