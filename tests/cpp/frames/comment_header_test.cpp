// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/comment_header.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

struct Read {
  FrameMetadata m;
  std::optional<double> exposure_s;
  int lines = 0;
  explicit Read(const std::string& text) { lines = read_comment_header(text, m, exposure_s); }
  bool noted(const std::string& words) const {
    for (const std::string& note : m.notes)
      if (note.find(words) != std::string::npos) return true;
    return false;
  }
};

// The spellings in use, from memory; the units are the header's own.
TEST(CommentHeader, UnderstandsTheUsualLines) {
  const Read r(
      "# Detector: some detector\r\n# 2026-03-01T12:00:00.000\n# Pixel_size 172e-6 m x 175e-6 m\n"
      "# Silicon sensor, thickness 0.00045 m\n# Exposure_time 1.5 s\n# Exposure_period 1.6 s\n"
      "# Tau = 1.25e-7 s\n# Count_cutoff 1048574 counts\n# Wavelength 1.5418 A\n"
      "# Detector_distance 0.6005 m\n# Beam_xy (251.1, 298.4) pixels\n# Flat_field: (nil)\n");
  EXPECT_DOUBLE_EQ(*r.m.pixel_size_x_mm, 0.172);
  EXPECT_DOUBLE_EQ(*r.m.pixel_size_y_mm, 0.175);
  EXPECT_EQ(*r.m.sensor_material, "Si");
  EXPECT_DOUBLE_EQ(*r.m.sensor_thickness_mm, 0.45);
  EXPECT_EQ(*r.exposure_s, 1.5);
  EXPECT_EQ(*r.m.saturation_value, 1048574);
  EXPECT_DOUBLE_EQ(*r.m.wavelength_nm, 0.15418);
  EXPECT_DOUBLE_EQ(*r.m.distance_mm, 600.5);
  EXPECT_EQ(*r.m.beam_center_x_px, 251.1);
  EXPECT_EQ(*r.m.beam_center_y_px, 298.4);
  EXPECT_EQ(*r.m.dead_time_s, 1.25e-7);
  EXPECT_TRUE(r.m.countrate_correction_applied);
  EXPECT_TRUE(r.noted("taken as already corrected for this dead time"));
  EXPECT_FALSE(r.m.flatfield_applied);
  EXPECT_EQ(r.lines, 10);
}

TEST(CommentHeader, LeavesOutWhatHasNoUnitAndSaysSo) {
  const Read r("# Wavelength 1.54\n# Detector_distance 600 furlong\n# Beam_xy (3, 4) mm\n# Exposure_time 0 s\n");
  EXPECT_FALSE(r.m.wavelength_nm);
  EXPECT_FALSE(r.m.distance_mm);
  EXPECT_FALSE(r.m.beam_center_x_px);
  EXPECT_FALSE(r.exposure_s);
  EXPECT_TRUE(r.noted("Wavelength 1.54 in the header has no unit"));
  EXPECT_TRUE(r.noted("the unit 'furlong'"));
  EXPECT_TRUE(r.noted("not in pixels but 'mm'"));
}

TEST(CommentHeader, TakesThePeriodOnlyWhereTheTimeIsMissing) {
  const Read r("# Exposure_period 2 s\n# Tau = 0 s\n# Beam_xy (0, 0) pixels\n# Flat_field: some.tif\n");
  EXPECT_EQ(*r.exposure_s, 2);
  EXPECT_TRUE(r.noted("which includes the readout"));
  EXPECT_FALSE(r.m.countrate_correction_applied);
  EXPECT_TRUE(r.noted("stands for not known"));
  EXPECT_TRUE(r.m.flatfield_applied);
}

TEST(CommentHeader, PassesOverProseAndEmptyText) {
  EXPECT_EQ(Read("Wavelength 1.54 A\nnot a header\n#\n# \n# Words\n").lines, 0);
  EXPECT_EQ(Read("").lines, 0);
}

}  // namespace
}  // namespace sievelight
