// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/whole_file.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

namespace sievelight {
namespace {

TEST(WholeFile, ReadsNumbersWithADecimalPointOnly) {
  EXPECT_EQ(parse_number("1.5e-3"), 1.5e-3);
  EXPECT_EQ(parse_number("+2"), 2.0);
  EXPECT_EQ(parse_number("-.5"), -0.5);
  for (const char* text : {"", "+", "1,5", "1.5x", "abc", " 1", "1.0D-3"}) EXPECT_FALSE(parse_number(text)) << text;
  EXPECT_TRUE(std::isnan(*parse_number("1e999")));  // and not infinity, nor the largest number
}

TEST(WholeFile, ReadsWhatIsThereAndRefusesTheRest) {
  const Scratch scratch;
  write_bytes(scratch / "a", std::string("x\0y\r\n", 5));
  EXPECT_EQ(read_whole_file(scratch / "a"), std::string("x\0y\r\n", 5));
  EXPECT_NE(refusal<DataError>([&] { read_whole_file(scratch / "b"); }).find("There is no file"), std::string::npos);
  EXPECT_NE(refusal<DataError>([&] { read_whole_file(scratch.folder()); }).find("is a folder"), std::string::npos);
  write_bytes(scratch / "big", "");
  std::filesystem::resize_file(scratch / "big", (std::uintmax_t{1} << 26) + 1);
  EXPECT_NE(refusal<DataError>([&] { read_whole_file(scratch / "big"); }).find("has 67108865 bytes"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
