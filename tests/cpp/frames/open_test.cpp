// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/open.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Three exposures of 6 x 8 pixels with their times, monitors and mask; `values` in file order.
void write_stack(const std::string& path, const std::vector<double>& values, hid_t type = H5T_STD_I32LE) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(path);
  h5_make_group(file.get(), "entry", "NXentry");
  h5_make_group(file.get(), "entry/detector", "NXdetector");
  h5_make_group(file.get(), "entry/control", "NXmonitor");
  write_numbers(file.get(), "/entry/detector/data", {3, 6, 8}, values, {type, {1, 6, 8}, true, 4});
  h5_write(file.get(), "/entry/detector/count_time", Eigen::VectorXd(Eigen::VectorXd::LinSpaced(3, 1, 3)), "s");
  h5_write(file.get(), "/entry/control/integral", Eigen::VectorXd(Eigen::VectorXd::LinSpaced(3, 10, 30)));
  write_field(file.get(), "/entry/detector/saturation_value", 90);
}

TEST(Open, SumsCountsTimesAndMonitors) {
  const Scratch scratch;
  const std::vector<double> values = ramp(3 * 48, 80);
  write_stack(scratch / "stack.h5", values);
  const FrameFile file(scratch / "stack.h5");
  EXPECT_EQ(file.dataset(), "/entry/detector/data");
  EXPECT_EQ(file.stored_type(), "int32");
  EXPECT_EQ(file.filters(), "shuffle+gzip");
  EXPECT_EQ(file.count(), 3);
  const Frame last = file.read(2), sum = file.read_sum({2, 0}), all = file.read_sum();
  EXPECT_TRUE((last.counts == Eigen::Map<const Image>(values.data() + 96, 6, 8)).all());
  EXPECT_EQ(last.exposure_s, 3);
  EXPECT_EQ(*last.monitor, 30);
  EXPECT_TRUE((sum.counts == file.read(0).counts + last.counts).all());
  EXPECT_EQ(sum.exposure_s, 4);
  EXPECT_EQ(*sum.monitor, 40);
  EXPECT_EQ(sum.exposures, 2);
  EXPECT_EQ(all.exposures, 3);
  EXPECT_EQ(all.exposure_s, 6);
  EXPECT_FALSE(all.masked.any());
}

TEST(Open, APixelMaskedInOneExposureIsMaskedInTheSum) {
  const Scratch scratch;
  std::vector<double> values(3 * 48, 40);
  values[48 + 5] = 90;  // saturated in exposure 1; the sum of the others would not show it
  values[96 + 7] = -1;
  write_stack(scratch / "stack.h5", values);
  const FrameFile file(scratch / "stack.h5");
  const Frame sum = file.read_sum();
  EXPECT_EQ(sum.masked.count(), 2);
  EXPECT_TRUE(sum.masked(0, 5) && sum.masked(0, 7));
  EXPECT_FALSE(sum.masked(0, 0));  // 120 counts in the sum, but 40 in every exposure
  EXPECT_EQ(file.read(0).masked.count(), 0);
  const std::vector<std::string>& notes = sum.metadata.notes;
  EXPECT_NE(std::find(notes.begin(), notes.end(), "1 numbers at or above the saturation value 90 masked"), notes.end());
  EXPECT_EQ(FrameFile(scratch / "stack.h5", {"", 1000.0, {}}).read_sum().masked.count(), 1);
}

TEST(Open, OptionsOverrideTheFile) {
  const Scratch scratch;
  write_stack(scratch / "stack.h5", ramp(3 * 48, 80));
  const FrameFile file(scratch / "stack.h5", {"", {}, 0.5});
  EXPECT_EQ(file.read_sum().exposure_s, 1.5);
  EXPECT_NE(refusal<InputError>([&] {
              FrameFile(scratch / "stack.h5", {"", {}, -1.0});
            }).find("exposure_s is -1"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] {
              FrameFile(scratch / "stack.h5", {"", 0.0, {}});
            }).find("saturation_value is 0"),
            std::string::npos);
}

TEST(Open, WithoutATimeTheExposureIsNotANumberAndSaysSo) {
  const Scratch scratch;
  {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(scratch / "bare.h5");
    write_numbers(file.get(), "x", {6, 8}, ramp(48), {H5T_STD_U16LE, {}, false, 0});
  }
  const Frame frame = FrameFile(scratch / "bare.h5").read(0);
  EXPECT_TRUE(std::isnan(frame.exposure_s));
  EXPECT_FALSE(frame.monitor);
  EXPECT_FALSE(frame.metadata.notes.empty());
}

TEST(Open, RefusesFramesThatAreNotThere) {
  const Scratch scratch;
  write_stack(scratch / "stack.h5", ramp(3 * 48, 80));
  const FrameFile file(scratch / "stack.h5");
  const std::string words = refusal<InputError>([&] { file.read(3); });
  EXPECT_NE(words.find("there is no frame 3 in"), std::string::npos);
  EXPECT_NE(words.find("from 0 to 2"), std::string::npos);
  EXPECT_NE(refusal<InputError>([&] { file.read(-1); }).find("no frame -1"), std::string::npos);
  EXPECT_NE(refusal<InputError>([&] { file.read_sum({1, 1}); }).find("listed twice"), std::string::npos);
}

TEST(Open, RefusesAFrameWithoutAUsablePixel) {
  const Scratch scratch;
  write_stack(scratch / "nan.h5", std::vector<double>(3 * 48, std::nan("")), H5T_IEEE_F32LE);
  const std::string words = refusal<DataError>([&] { FrameFile(scratch / "nan.h5").read(1); });
  EXPECT_NE(words.find("has no usable pixel: all 48 are masked, 48 numbers that are not finite masked"),
            std::string::npos)
      << words;
  write_stack(scratch / "hot.h5", std::vector<double>(3 * 48, 1000));
  EXPECT_NE(refusal<DataError>([&] { FrameFile(scratch / "hot.h5").read_sum(); }).find("saturation value 90"),
            std::string::npos);
}

TEST(Open, RefusesFramesFromWhichSomethingWasSubtracted) {
  const Scratch scratch;
  std::vector<double> values(3 * 48, 40);
  values[50] = -0.25;
  write_stack(scratch / "dark.h5", values, H5T_IEEE_F64LE);
  EXPECT_NO_THROW(FrameFile(scratch / "dark.h5").read(0));
  EXPECT_NE(refusal<DataError>([&] {
              FrameFile(scratch / "dark.h5").read(1);
            }).find("holds 1 negative numbers that are not whole"),
            std::string::npos);
}

TEST(Open, SaysWhyAFileDoesNotOpen) {
  const Scratch scratch;
  const auto words = [&](const std::string& name) { return refusal<DataError>([&] { FrameFile(scratch / name); }); };
  EXPECT_NE(words("none.h5").find("There is no file"), std::string::npos);
  EXPECT_NE(words("").find("is a folder"), std::string::npos);
  write_bytes(scratch / "nothing", "");
  EXPECT_NE(words("nothing").find("is empty"), std::string::npos);
  write_bytes(scratch / "noise", std::string("\x01\x02\x03\x04\x05", 5));
  EXPECT_NE(words("noise").find("neither HDF5, TIFF, CBF, NPY nor text"), std::string::npos);
  EXPECT_NE(words("noise").find("Frames are read from HDF5/NeXus"), std::string::npos);
  write_bytes(scratch / "curve.xml", "<?xml version='1.0'?><SASroot/>");
  EXPECT_NE(words("curve.xml").find("read_curves()"), std::string::npos);
  write_bytes(scratch / "frame.h5.gz", std::string("\x1f\x8b\x08\0\0", 5));
  EXPECT_NE(words("frame.h5.gz").find("compressed as a whole"), std::string::npos);
  write_bytes(scratch / "image.tif", std::string("II*\0\0\0\0\0\0\0", 10));
  EXPECT_NE(words("image.tif").find("truncated or broken TIFF"), std::string::npos);
  write_stack(scratch / "whole.h5", ramp(3 * 48, 80));
  const std::string whole = read_bytes(scratch / "whole.h5");
  write_bytes(scratch / "half.h5", whole.substr(0, whole.size() / 2));
  EXPECT_NE(words("half.h5").find("truncated or broken"), std::string::npos);
}

TEST(Open, GoesByTheContentAndNotByTheSuffix) {
  const Scratch scratch;
  write_stack(scratch / "frame.tif", ramp(3 * 48, 80));
  EXPECT_EQ(FrameFile(scratch / "frame.tif").format(), "HDF5");
  write_bytes(scratch / "strip.h5", "1 4\n2 5\n");
  EXPECT_EQ(FrameFile(scratch / "strip.h5").format(), "text");
}

TEST(Open, NoticesThatTheFileHasChanged) {
  const Scratch scratch;
  write_stack(scratch / "stack.h5", ramp(3 * 48, 80));
  const FrameFile file(scratch / "stack.h5");
  {
    const auto lock = hdf5_lock();
    const H5Handle other = h5_create(scratch / "stack.h5");
    h5_make_group(other.get(), "entry", "NXentry");
    h5_make_group(other.get(), "entry/detector", "NXdetector");
    write_numbers(other.get(), "/entry/detector/data", {3, 6, 7}, ramp(126), {H5T_STD_I32LE, {}, false, 0});
  }
  EXPECT_NE(refusal<DataError>([&] { file.read(0); }).find("has changed since it was opened"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
