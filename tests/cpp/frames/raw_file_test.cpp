// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/raw_file.hpp"

#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <vector>

namespace sievelight {
namespace {

TEST(RawFile, ReadsFromAnyPlaceAndSaysWhenThereIsNotEnough) {
  const Scratch scratch;
  std::ofstream(scratch / "bytes") << "0123456789";
  RawFile file(scratch / "bytes");
  ASSERT_TRUE(file);
  std::vector<unsigned char> four(4);
  EXPECT_TRUE(file.read(3, four.data(), 4));
  EXPECT_EQ(std::string(four.begin(), four.end()), "3456");
  EXPECT_FALSE(file.read(7, four.data(), 4));
  file.will_want(0, 10);  // a wish; nothing to see
  const RawFile moved = std::move(file);
  EXPECT_TRUE(moved.read(0, four.data(), 4));
  EXPECT_FALSE(file);
}

TEST(RawFile, StaysClosedWhenThereIsNoFile) {
  const Scratch scratch;
  EXPECT_FALSE(RawFile(scratch / "nothing"));
}

}  // namespace
}  // namespace sievelight
