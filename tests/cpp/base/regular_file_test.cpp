// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/regular_file.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <filesystem>

namespace sievelight {
namespace {

std::string words(const std::string& path) {
  return refusal<DataError>([&] { require_regular_file(path); });
}

TEST(RegularFile, IsAFileOrALinkToOne) {
  const Scratch scratch;
  write_bytes(scratch / "file", "x");
  std::filesystem::create_symlink(scratch / "file", scratch / "link");
  std::filesystem::create_symlink(scratch / "gone", scratch / "nowhere");
  EXPECT_EQ(words(scratch / "file"), "accepted");
  EXPECT_EQ(words(scratch / "link"), "accepted");
  for (const char* name : {"none", "nowhere", "file/below"})
    EXPECT_NE(words(scratch / name).find("There is no file"), std::string::npos) << name;
  EXPECT_NE(words(scratch.folder()).find("is a folder"), std::string::npos);
  ASSERT_EQ(::mkfifo((scratch / "pipe").c_str(), 0600), 0);
  EXPECT_NE(words(scratch / "pipe").find("a pipe or a device"), std::string::npos);
  EXPECT_NE(words("/dev/zero").find("a pipe or a device"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
