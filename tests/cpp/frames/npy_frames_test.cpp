// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/npy_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/open.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

std::string npy(const std::string& type, const std::string& shape, bool fortran, const std::string& data) {
  const std::string header =
      "{'descr': '" + type + "', 'fortran_order': " + (fortran ? "True" : "False") + ", 'shape': " + shape + ", }\n";
  return std::string("\x93NUMPY\1\0", 8) + static_cast<char>(header.size()) + '\0' + header + data;
}

std::string bytes(unsigned char n) {
  std::string out;
  for (unsigned char i = 0; i < n; ++i) out += static_cast<char>(i);
  return out;
}

TEST(NpyFrames, StacksComeOutAlikeInBothOrders) {
  const Scratch scratch;
  write_bytes(scratch / "c.npy", npy("|u1", "(2, 3, 4)", false, bytes(24)));
  const FrameFile c(scratch / "c.npy");
  EXPECT_EQ(c.format(), "NPY");
  EXPECT_EQ(c.stored_type(), "uint8");
  EXPECT_EQ(c.count(), 2);
  EXPECT_EQ(c.read(1).counts(2, 3), 23);
  // Fortran's order: the first index runs fastest, so (i, r, c) stands at i + 2 (r + 3 c).
  write_bytes(scratch / "f.npy", npy("|u1", "(2, 3, 4)", true, bytes(24)));
  const FrameFile f(scratch / "f.npy");
  for (int i : {0, 1})
    for (int row = 0; row < 3; ++row)
      for (int column = 0; column < 4; ++column) EXPECT_EQ(f.read(i).counts(row, column), i + 2 * (row + 3 * column));
  EXPECT_EQ(f.read_sum().counts(1, 2), 2 * (2 * (1 + 3 * 2)) + 1);
}

TEST(NpyFrames, FewerDimensionsAreStripsAndSingleCounts) {
  const Scratch scratch;
  write_bytes(scratch / "strip.npy", npy("|u1", "(5,)", false, bytes(5)));
  const FrameFile strip(scratch / "strip.npy");
  EXPECT_EQ(strip.rows(), 1);
  EXPECT_EQ(strip.columns(), 5);
  write_bytes(scratch / "point.npy", npy("|u1", "()", false, "\x2a"));
  EXPECT_EQ(FrameFile(scratch / "point.npy").read(0).counts(0, 0), 42);
}

TEST(NpyFrames, NoticesThatTheFileHasChanged) {
  const Scratch scratch;
  write_bytes(scratch / "x.npy", npy("|u1", "(3, 4)", false, bytes(12)));
  const FrameFile file(scratch / "x.npy");
  write_bytes(scratch / "x.npy", npy("|u1", "(4, 3)", false, bytes(12)));
  EXPECT_NE(refusal<DataError>([&] { file.read(0); }).find("has changed since it was opened"), std::string::npos);
}

TEST(NpyFrames, RefusesMasksAndFourDimensions) {
  const Scratch scratch;
  write_bytes(scratch / "mask.npy", npy("|b1", "(2, 2)", false, bytes(4)));
  EXPECT_NE(refusal<DataError>([&] { FrameFile(scratch / "mask.npy"); }).find("true and false"), std::string::npos);
  EXPECT_EQ(read_npy_image(scratch / "mask.npy")(1, 1), 3);
  write_bytes(scratch / "four.npy", npy("|u1", "(1, 1, 2, 2)", false, bytes(4)));
  EXPECT_NE(refusal<DataError>([&] { FrameFile(scratch / "four.npy"); }).find("has 4 dimensions"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
