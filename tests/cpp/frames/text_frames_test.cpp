// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/text_frames.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/open.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace sievelight {
namespace {

TEST(TextFrames, TwoColumnsAreAStrip) {
  const Scratch scratch;
  write_bytes(scratch / "strip.txt",
              "# Exposure_time 60 s\nchannel counts\n0, 12\r\n1, 7\r\n\n# pause\n2, 1000\n3, -1\n");
  const FrameFile file(scratch / "strip.txt", {"", 1000.0, {}});
  EXPECT_EQ(file.format(), "text");
  EXPECT_EQ(file.rows(), 1);
  EXPECT_EQ(file.columns(), 4);
  const Frame frame = file.read(0);
  EXPECT_EQ(frame.exposure_s, 60);
  EXPECT_EQ(frame.counts(0, 1), 7);
  EXPECT_TRUE(frame.masked(0, 2) && frame.masked(0, 3));
  EXPECT_EQ(frame.masked.count(), 2);
}

TEST(TextFrames, OneColumnIsAStripTooAndUnequalStepsAreSaid) {
  const Scratch scratch;
  write_bytes(scratch / "one.txt", "5\n6\n7\n");
  EXPECT_EQ(FrameFile(scratch / "one.txt").read(0).counts(0, 2), 7);
  write_bytes(scratch / "steps.txt", "0 5\n1 6\n3 7\n");
  const std::vector<std::string> notes = FrameFile(scratch / "steps.txt").metadata().notes;
  EXPECT_TRUE(std::any_of(notes.begin(), notes.end(), [](const std::string& note) {
    return note.find("steps are not equal") != std::string::npos;
  }));
}

TEST(TextFrames, RefusesWhatIsNoStripWithFileAndLine) {
  const Scratch scratch;
  const auto words = [&](const std::string& text) {
    write_bytes(scratch / "x.txt", text);
    return refusal<DataError>([&] { FrameFile(scratch / "x.txt"); });
  };
  EXPECT_NE(words("1 2 3\n4 5 6\n").find("Line 1"), std::string::npos);
  EXPECT_NE(words("1 2 3\n4 5 6\n").find("has 3 columns"), std::string::npos);
  EXPECT_NE(words("0 4\n1\n").find("Line 2"), std::string::npos);
  EXPECT_NE(words("0 4\n1 five\n").find("is not numbers: '1 five'"), std::string::npos);
  EXPECT_NE(words("3 4\n2 5\n").find("does not rise"), std::string::npos);
  EXPECT_NE(words("only words\n").find("no line of numbers"), std::string::npos);
  EXPECT_NE(words("0 nan\n").find("accepted"), std::string::npos);  // opened; the number is masked when it is read
  EXPECT_NE(refusal<DataError>([&] { FrameFile(scratch / "x.txt").read(0); }).find("no usable pixel"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
