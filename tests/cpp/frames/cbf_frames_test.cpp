// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_frames.hpp"

#include "frames/cbf_writer.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/open.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

bool noted(const FrameMetadata& m, const std::string& words) {
  return std::any_of(m.notes.begin(), m.notes.end(),
                     [&](const std::string& note) { return note.find(words) != std::string::npos; });
}

TEST(CbfFrames, ReadsTheSmallHeader) {
  const Scratch scratch;
  CbfWriter()
      .header(
          "\n# Pixel_size 172e-6 m x 172e-6 m\n# Exposure_time 2.5 s\n# Wavelength 1.0332 A\n"
          "# Detector_distance 2.0 m\n# Beam_xy (1.5, 0.5) pixels\n# Count_cutoff 1000 counts\n")
      .image(std::vector<int>{1, 2, 3, -1, 1000, 6}, 3, 2, CBF_BYTE_OFFSET)
      .write(scratch / "x.cbf");
  const FrameFile file(scratch / "x.cbf");
  EXPECT_EQ(file.format(), "CBF");
  EXPECT_EQ(file.filters(), "byte-offset");
  EXPECT_DOUBLE_EQ(*file.metadata().pixel_size_x_mm, 0.172);
  EXPECT_DOUBLE_EQ(*file.metadata().wavelength_nm, 0.10332);
  EXPECT_DOUBLE_EQ(*file.metadata().distance_mm, 2000);
  EXPECT_EQ(*file.metadata().beam_center_x_px, 1.5);
  const Frame frame = file.read(0);
  EXPECT_EQ(frame.exposure_s, 2.5);
  EXPECT_EQ(frame.counts(0, 2), 3);
  EXPECT_EQ(frame.masked.count(), 2);  // the marker and the saturated pixel
  EXPECT_TRUE(frame.masked(1, 0) && frame.masked(1, 1));
}

// Names and units: imgCIF dictionary 1.7 (International Tables G, chapter 4.6): wavelength in Angstrom, displacement
// and distance in mm, element size in m, times in s.
TEST(CbfFrames, ReadsTheItemsOfTheDictionary) {
  const Scratch scratch;
  CbfWriter()
      .items("diffrn_radiation_wavelength", {"id", "wavelength", "wt"}, {{"1", "0.7107(2)", "1.0"}})
      .items("diffrn_measurement", {"diffrn_id", "sample_detector_distance"}, {{"d", "250.5"}})
      .items("diffrn_detector_element",
             {"id", "detector_id", "reference_center_fast", "reference_center_slow", "reference_center_units"},
             {{"e", "d", "0.2", "0.3", "mm"}})
      .items("diffrn_scan_frame", {"frame_id", "integration_time"}, {{"f1", "0.5"}, {"f2", "1.5"}})
      .items("array_structure_list", {"array_id", "index", "dimension", "precedence", "direction", "axis_set_id"},
             {{"a", "1", "3", "1", "increasing", "FAST"}, {"a", "2", "2", "2", "decreasing", "SLOW"}})
      .items("array_structure_list_axis", {"axis_set_id", "axis_id", "displacement", "displacement_increment"},
             {{"SLOW", "SLOW", "0", "-0.15"}, {"FAST", "FAST", "0", "0.1"}})
      .items("array_intensities", {"array_id", "linearity", "overload", "undefined_value"},
             {{"a", "linear", "900", "7"}})
      .image(std::vector<int>{1, 2, 3, 7, 5, 6}, 3, 2, CBF_BYTE_OFFSET)
      .image(std::vector<int>{1, 2, 900, 4, 5, 6}, 3, 2, CBF_BYTE_OFFSET)
      .write(scratch / "x.cbf");
  const FrameFile file(scratch / "x.cbf");
  const FrameMetadata& m = file.metadata();
  EXPECT_DOUBLE_EQ(*m.wavelength_nm, 0.07107);
  EXPECT_DOUBLE_EQ(*m.distance_mm, 250.5);
  EXPECT_DOUBLE_EQ(*m.pixel_size_x_mm, 0.1);
  EXPECT_DOUBLE_EQ(*m.pixel_size_y_mm, 0.15);
  EXPECT_DOUBLE_EQ(*m.beam_center_x_px, 2.0);
  EXPECT_DOUBLE_EQ(*m.beam_center_y_px, 2.0);
  EXPECT_EQ(*m.saturation_value, 900);
  EXPECT_TRUE(noted(m, "the slow axis is said to run backwards"));
  EXPECT_EQ(file.count(), 2);
  EXPECT_EQ(file.read(1).exposure_s, 1.5);
  const Frame sum = file.read_sum();
  EXPECT_EQ(sum.exposure_s, 2.0);
  EXPECT_EQ(sum.counts(0, 0), 2);
  EXPECT_EQ(sum.masked.count(), 2);  // undefined in the first image, overloaded in the second
  EXPECT_TRUE(sum.masked(1, 0) && sum.masked(0, 2));
}

TEST(CbfFrames, TakesElementSizesInMetres) {
  const Scratch scratch;
  CbfWriter()
      .items("array_structure_list", {"array_id", "index", "dimension", "precedence"},
             {{"a", "1", "3", "1"}, {"a", "2", "2", "2"}})
      .items("array_element_size", {"array_id", "index", "size"}, {{"a", "1", "1.72e-4"}, {"a", "2", "7.5e-5"}})
      .image(std::vector<int>{1, 2, 3, 7, 5, 6}, 3, 2, CBF_BYTE_OFFSET)
      .write(scratch / "x.cbf");
  const FrameFile file(scratch / "x.cbf");
  EXPECT_DOUBLE_EQ(*file.metadata().pixel_size_x_mm, 0.172);
  EXPECT_DOUBLE_EQ(*file.metadata().pixel_size_y_mm, 0.075);
  EXPECT_TRUE(std::isnan(file.read(0).exposure_s));
  EXPECT_TRUE(noted(file.metadata(), "no exposure time in the file"));
}

TEST(CbfFrames, RefusesCodedNumbers) {
  const Scratch scratch;
  CbfWriter()
      .items("array_intensities", {"array_id", "linearity"}, {{"a", "sqrt_scaled"}})
      .image(std::vector<int>{1, 2, 3, 7, 5, 6}, 3, 2, CBF_BYTE_OFFSET)
      .write(scratch / "x.cbf");
  EXPECT_NE(refusal<DataError>([&] { FrameFile(scratch / "x.cbf"); }).find("coded (sqrt_scaled)"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
