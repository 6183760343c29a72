// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/byte_offset.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cstdint>

namespace sievelight {
namespace {

using Bytes = std::vector<unsigned char>;

std::vector<double> decoded(const Bytes& packed, std::size_t n, NumberKind kind) {
  std::vector<double> out(n);
  to_doubles(plain_type(kind, false), decode_byte_offset(packed, n, plain_type(kind, false)).data(), n, out.data());
  return out;
}

std::string words(const Bytes& packed, std::size_t n, NumberKind kind) {
  return refusal<DataError>([&] { decode_byte_offset(packed, n, plain_type(kind, false)); });
}

// By hand from the header's words; files of the crystallographic union's library are read in cbf_file_test.cpp.
TEST(ByteOffset, WidensWhereAStepDoesNotFit) {
  const Bytes packed{0x01, 0xff, 0x80, 0x2c, 0x01, 0x80, 0x00, 0x80, 0x00, 0x00, 0x01, 0x00, 0x81};
  EXPECT_EQ(decoded(packed, 5, NumberKind::i32), (std::vector<double>{1, 0, 300, 65836, 65709}));
  const Bytes eight{0x80, 0x00, 0x80, 0x00, 0x00, 0x00, 0x80, 0, 0, 0, 0, 1, 0, 0, 0};
  EXPECT_EQ(decoded(eight, 1, NumberKind::i64), (std::vector<double>{4294967296.0}));
}

TEST(ByteOffset, RefusesWhatEndsEarlyOrDoesNotFit) {
  EXPECT_NE(words({1, 2}, 3, NumberKind::i32).find("end too early"), std::string::npos);
  EXPECT_NE(words({1, 0x80, 5}, 2, NumberKind::i32).find("end too early"), std::string::npos);
  EXPECT_NE(words({}, 1, NumberKind::i8).find("end too early"), std::string::npos);
  EXPECT_NE(words({127, 127}, 2, NumberKind::i8).find("too large"), std::string::npos);
  EXPECT_NE(words({0xff}, 1, NumberKind::u16).find("too large"), std::string::npos);
  EXPECT_NE(words({1}, 1, NumberKind::f32).find("floating-point"), std::string::npos);
  EXPECT_EQ(words({127, 127}, 2, NumberKind::u8), "accepted");
}

}  // namespace
}  // namespace sievelight
