// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

Frame some_frame() { return {Image::Constant(2, 3, 5.0), Mask::Constant(2, 3, false), 1.0, {}, 1, {}}; }

std::string words(const Frame& frame) {
  return refusal<InputError>([&] { check(frame); });
}

TEST(Frame, MayHoldAnythingWhereItIsMasked) {
  Frame frame = some_frame();
  EXPECT_EQ(words(frame), "accepted");
  frame.counts(1, 2) = std::nan("");
  EXPECT_NE(words(frame).find("row 1, column 2 holds nan counts"), std::string::npos);
  frame.masked(1, 2) = true;
  EXPECT_EQ(words(frame), "accepted");
  frame.counts(0, 1) = -1;
  EXPECT_NE(words(frame).find("row 0, column 1 holds -1 counts"), std::string::npos);
}

TEST(Frame, NeedsAMaskOfItsShape) {
  Frame frame = some_frame();
  frame.masked.resize(3, 2);
  EXPECT_NE(words(frame).find("the counts are 2 x 3 and their mask 3 x 2"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
