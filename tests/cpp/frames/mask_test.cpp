// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/mask.hpp"

#include "frames/some_frames.hpp"
#include "frames/tiff_writer.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

const Mask nothing;

Image poisson(const Image& mean, unsigned start) {
  std::mt19937_64 random(start);
  Image out(mean.rows(), mean.cols());
  for (Eigen::Index i = 0; i < mean.size(); ++i)
    out.data()[i] = static_cast<double>(std::poisson_distribution<long>(mean.data()[i])(random));
  return out;
}

// I ~ r^-4 from the beamstop's edge at 6 pixels on: at the edge the intensity falls by 40 % from pixel to pixel.
Image slope(double scale, double rings) {
  Image mean(300, 320);
  for (Eigen::Index y = 0; y < mean.rows(); ++y)
    for (Eigen::Index x = 0; x < mean.cols(); ++x) {
      const double r = std::hypot(static_cast<double>(x) - 160.3, static_cast<double>(y) - 149.8);
      // Rings of 1.2 pixels' standard deviation: as sharp as a good calibrant's.
      const double ring = rings * std::exp(-std::pow(std::remainder(r, 30.0) / 1.2, 2) / 2);
      mean(y, x) = scale / std::pow(std::max(r, 6.0), 4) + ring + 0.2;
    }
  return mean;
}

// 96000 pixels and a chance of 1e-9 each: 1e-4 false alarms are expected in a frame, so not one may come.
TEST(FindDefects, RaisesNoAlarmOnSteepSlopesAndSharpRings) {
  unsigned start = 0;
  for (const double scale : {1e3, 1e5, 1e7, 1e9})
    for (const double rings : {0.0, 10.0, 3000.0})
      EXPECT_EQ(find_defects(poisson(slope(scale, rings), ++start), nothing).count(), 0) << scale << ", " << rings;
}

// With a chance of 1e-3 a pixel may be flagged, but no more often than that: the test errs towards silence.
TEST(FindDefects, RaisesNoMoreFalseAlarmsThanAskedFor) {
  for (const double mean : {0.05, 1.0, 30.0, 1e4}) {
    const Image counts = poisson(Image::Constant(300, 300, mean), 11);
    EXPECT_LE(find_defects(counts, nothing, 1e-3).count(), 90) << mean;  // 1e-3 of 90000
  }
}

TEST(FindDefects, FindsHotDeadAndPairedPixels) {
  Image counts = poisson(Image::Constant(60, 60, 400), 3);  // sd 20
  counts(10, 10) = 700;
  counts(20, 20) = 0;
  counts(30, 30) = 5000;
  counts(30, 31) = 5000;
  counts(0, 0) = 900;
  const Mask found = find_defects(counts, nothing);
  EXPECT_EQ(found.count(), 5);
  for (const auto& [y, x] : {std::pair{10, 10}, {20, 20}, {30, 30}, {30, 31}, {0, 0}}) EXPECT_TRUE(found(y, x));
}

TEST(FindDefects, FindsAHotPixelAmongZeros) {
  Image counts = Image::Zero(40, 40);
  counts(5, 5) = 1;
  counts(20, 20) = 12;
  const Mask found = find_defects(counts, nothing);
  EXPECT_EQ(found.count(), 1);  // one count among zeros is no defect
  EXPECT_TRUE(found(20, 20));
}

TEST(FindDefects, LeavesMaskedPixelsOutOfTheGame) {
  Image counts = Image::Constant(40, 40, 400);
  Mask masked = Mask::Constant(40, 40, false);
  masked.block(0, 0, 40, 19).setConstant(true);
  counts.block(0, 0, 40, 19).setConstant(1e6);  // a gap full of rubbish
  counts(20, 19) = 900;
  const Mask found = find_defects(counts, masked);
  EXPECT_EQ(found.count(), 1);
  EXPECT_TRUE(found(20, 19));
}

TEST(FindDefects, RefusesAMaskOfAnotherShape) {
  EXPECT_NE(refusal<InputError>([] {
              find_defects(Image::Zero(4, 5), Mask::Constant(5, 4, false));
            }).find("the frame is 4 x 5 and its mask 5 x 4"),
            std::string::npos);
  EXPECT_THROW(find_defects(Image::Zero(4, 5), nothing, 0), InputError);
}

TEST(Mask, UnitesAndRefusesUnlikeShapes) {
  Mask a = Mask::Constant(2, 3, false), b = a;
  a(0, 1) = true;
  b(1, 2) = true;
  EXPECT_EQ(unite(a, b).count(), 2);
  EXPECT_EQ(unite(a, nothing).count(), 1);
  EXPECT_EQ(unite(nothing, b).count(), 1);
  EXPECT_NE(refusal<InputError>([&] { unite(a, Mask::Constant(3, 2, false)); }).find("2 x 3 and 3 x 2"),
            std::string::npos);
}

TEST(Mask, IsReadFromPixelMaskOrMask) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  {
    const H5Handle file = h5_create(scratch / "mask.h5");
    write_numbers(file.get(), "mask", {2, 3}, {0, 1, 0, 0, 0, 4}, {H5T_STD_U8LE, {}, false, 0});
  }
  const Mask mask = read_mask(scratch / "mask.h5", 2, 3);
  EXPECT_EQ(mask.count(), 2);
  EXPECT_TRUE(mask(0, 1) && mask(1, 2));
  EXPECT_NE(refusal<DataError>([&] { read_mask(scratch / "mask.h5", 3, 2); }).find("is 2 x 3, the frames are 3 x 2"),
            std::string::npos);
  {
    const H5Handle file = h5_create(scratch / "strip.h5");
    write_numbers(file.get(), "mask", {4}, {0, 1, 0, 0}, {H5T_STD_U8LE, {}, false, 0});
  }
  EXPECT_TRUE(read_mask(scratch / "strip.h5", 1, 4)(0, 1));
  {
    const H5Handle file = h5_create(scratch / "frame.h5");
    write_numbers(file.get(), "data", {2, 3}, ramp(6), {H5T_STD_U8LE, {}, false, 0});
  }
  EXPECT_NE(refusal<DataError>([&] { read_mask(scratch / "frame.h5", 2, 3); }).find("holds no mask"),
            std::string::npos);
}

TEST(Mask, IsReadFromTiffAndNpyToo) {
  const Scratch scratch;
  write_tiff<unsigned char>(scratch / "mask.dat", {{0, 1, 0, 0, 0, 255}}, 2, 3);
  const Mask mask = read_mask(scratch / "mask.dat", 2, 3);
  EXPECT_EQ(mask.count(), 2);
  EXPECT_TRUE(mask(0, 1) && mask(1, 2));
  EXPECT_NE(refusal<DataError>([&] { read_mask(scratch / "mask.dat", 3, 2); }).find("is 2 x 3, the frames are 3 x 2"),
            std::string::npos);
  write_tiff<unsigned char>(scratch / "two.tif", {{0, 1}, {1, 0}}, 1, 2);
  EXPECT_NE(refusal<DataError>([&] { read_mask(scratch / "two.tif", 1, 2); }).find("holds 2 pages"), std::string::npos);
  const std::string header = "{'descr': '|b1', 'fortran_order': False, 'shape': (2, 2), }\n";
  write_bytes(scratch / "mask.npy", std::string("\x93NUMPY\1\0", 8) + static_cast<char>(header.size()) + '\0' + header +
                                        std::string("\0\1\0\0", 4));
  const Mask other = read_mask(scratch / "mask.npy", 2, 2);
  EXPECT_EQ(other.count(), 1);
  EXPECT_TRUE(other(0, 1));
}

}  // namespace
}  // namespace sievelight
