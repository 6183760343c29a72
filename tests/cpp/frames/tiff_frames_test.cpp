// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/tiff_frames.hpp"

#include "frames/tiff_writer.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/open.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

TEST(TiffFrames, SumsPagesAndMasksWhatIsNoCount) {
  const Scratch scratch;
  write_tiff<int>(scratch / "x.tif", {{1, 2, 3, -2, 5, 6}, {1, 1, 800, 1, 1, 1}}, 2, 3, {.format = SAMPLEFORMAT_INT});
  const FrameFile file(scratch / "x.tif", {"", 800.0, 2.0});
  EXPECT_EQ(file.format(), "TIFF");
  EXPECT_EQ(file.count(), 2);
  const Frame sum = file.read_sum();
  EXPECT_EQ(sum.counts(1, 2), 7);
  EXPECT_EQ(sum.exposure_s, 4);
  EXPECT_EQ(sum.masked.count(), 2);
  EXPECT_TRUE(sum.masked(1, 0) && sum.masked(0, 2));
  EXPECT_NE(refusal<InputError>([&] {
              FrameFile(scratch / "x.tif", {"/entry/data", {}, {}});
            }).find("no HDF5 file"),
            std::string::npos);
}

TEST(TiffFrames, ReadsAHeaderInTheDescriptionAndOnlyNotesOtherText) {
  const Scratch scratch;
  write_tiff<int>(scratch / "x.tif", {{1, 2, 3, 4, 5, 6}}, 2, 3,
                  {.format = SAMPLEFORMAT_INT,
                   .description = "# Exposure_time 1.5 s\n# Wavelength 1.54 A\n",
                   .when = "2026:03:01 12:00:00"});
  const FrameFile file(scratch / "x.tif");
  EXPECT_EQ(file.read(0).exposure_s, 1.5);
  EXPECT_DOUBLE_EQ(*file.metadata().wavelength_nm, 0.154);
  EXPECT_EQ(file.metadata().notes.front(), "DateTime in the file: 2026:03:01 12:00:00");
  write_tiff<int>(scratch / "y.tif", {{1, 2, 3, 4, 5, 6}}, 2, 3,
                  {.format = SAMPLEFORMAT_INT, .description = "wavelength=1.54, exposure=3"});
  const FrameFile other(scratch / "y.tif");
  EXPECT_FALSE(other.metadata().wavelength_nm);
  EXPECT_TRUE(std::isnan(other.read(0).exposure_s));
  EXPECT_EQ(other.metadata().notes.front(), "description in the file, not read: wavelength=1.54, exposure=3");
}

TEST(TiffFrames, NoticesThatTheFileHasChanged) {
  const Scratch scratch;
  write_tiff<int>(scratch / "x.tif", {{1, 2, 3, 4, 5, 6}}, 2, 3, {.format = SAMPLEFORMAT_INT});
  const FrameFile file(scratch / "x.tif");
  write_tiff<int>(scratch / "x.tif", {{1, 2, 3, 4, 5, 6}}, 3, 2, {.format = SAMPLEFORMAT_INT});
  EXPECT_NE(refusal<DataError>([&] { file.read(0); }).find("has changed since it was opened"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
