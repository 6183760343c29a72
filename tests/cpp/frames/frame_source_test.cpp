// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame_source.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cstring>

namespace sievelight {
namespace {

TEST(FrameSource, AddsOneExposureRowByRowOnTopOfWhatIsThere) {
  std::vector<short> stored(200 * 30);
  for (std::size_t i = 0; i < stored.size(); ++i) stored[i] = static_cast<short>(i % 100);
  stored[31] = -1;
  Image counts = Image::Constant(200, 30, 5.0);
  Mask masked = Mask::Constant(200, 30, false);
  const CountTally tally = add_frame(plain_type(NumberKind::i16, false),
                                     reinterpret_cast<const unsigned char*>(stored.data()), 99, counts, masked);
  EXPECT_EQ(counts(0, 7), 5 + 7);
  EXPECT_EQ(counts(199, 29), 5 + (200 * 30 - 1) % 100);
  EXPECT_EQ(tally.markers, 1u);
  EXPECT_EQ(tally.saturated, 60u);  // one number of every hundred is 99
  EXPECT_EQ(masked.count(), 61);
  EXPECT_TRUE(masked(1, 1));
}

TEST(FrameSource, ReadsNumbersOfEitherByteOrder) {
  const unsigned char big[] = {0x01, 0x02, 0xff, 0xfe};
  double out[2] = {};
  to_doubles(plain_type(NumberKind::i16, true), big, 2, out);
  EXPECT_EQ(out[0], 258);
  EXPECT_EQ(out[1], -2);
  EXPECT_FALSE(plain_type(NumberKind::u8, true).swapped);  // one byte has no order
  EXPECT_EQ(plain_type(NumberKind::f64, false).size, 8u);
}

TEST(FrameSource, MessagesHoldNoBytesThatCannotBePrinted) {
  EXPECT_EQ(printable("a\xff\n\x01 b"), "a b");
  EXPECT_EQ(printable("abc", 2), "ab");
}

TEST(FrameSource, RefusesSizesBeyondReason) {
  EXPECT_NO_THROW(require_sensible_size("x", 1, 1 << 14, 1 << 14));
  EXPECT_NE(refusal<DataError>([] { require_sensible_size("x", 1, 1u << 20, 1u << 20); }).find("claims"),
            std::string::npos);
  EXPECT_NE(refusal<DataError>([] { require_sensible_size("x", 0, 4, 5); }).find("is empty"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
