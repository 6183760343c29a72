// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/nexus.hpp"

#include "frames/some_frames.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace sievelight {
namespace {

// A small NXsas-like file; each test writes the fields it is about.
class Nexus : public testing::Test {
 protected:
  Nexus() {
    for (const auto& [name, nx_class] : {std::pair{"entry", "NXentry"},
                                         {"entry/instrument", "NXinstrument"},
                                         {"entry/instrument/detector", "NXdetector"},
                                         {"entry/control", "NXmonitor"},
                                         {"entry/instrument/monochromator", "NXmonochromator"},
                                         {"entry/sample", "NXsample"}})
      h5_make_group(file.get(), name, nx_class);
  }
  void detector(const std::string& name, double value, const std::string& unit = "") {
    write_field(file.get(), "/entry/instrument/detector/" + name, value, unit);
  }
  FrameFacts read(Eigen::Index count = 1) {
    return read_nexus(file.get(), "/entry/instrument/detector/data", count, 195, 487);
  }
  static bool noted(const FrameFacts& facts, const std::string& words) {
    return std::any_of(facts.metadata.notes.begin(), facts.metadata.notes.end(),
                       [&](const std::string& note) { return note.find(words) != std::string::npos; });
  }

  std::unique_lock<std::recursive_mutex> lock = hdf5_lock();
  Scratch scratch;
  H5Handle file = h5_create(scratch / "f.h5");
};

TEST_F(Nexus, ReadsGeometryWithUnits) {
  detector("distance", 0.6, "m");
  detector("x_pixel_size", 172, "um");
  detector("y_pixel_size", 0.172, "mm");
  detector("beam_center_x", 17.2, "mm");
  detector("beam_center_y", 90.25, "pixels");
  detector("sensor_thickness", 450, "um");
  detector("saturation_value", 1e6);
  detector("dead_time", 125, "ns");
  h5_write_text(file.get(), "/entry/instrument/detector/sensor_material", "Si");
  write_field(file.get(), "/entry/instrument/monochromator/wavelength", 1.54187, "Angstrom");
  h5_write_text(file.get(), "/entry/sample/name", "Z41-b");
  const FrameMetadata m = read().metadata;
  EXPECT_DOUBLE_EQ(*m.distance_mm, 600);
  EXPECT_DOUBLE_EQ(*m.pixel_size_x_mm, 0.172);
  EXPECT_DOUBLE_EQ(*m.beam_center_x_px, 100);
  EXPECT_DOUBLE_EQ(*m.beam_center_y_px, 90.25);
  EXPECT_DOUBLE_EQ(*m.sensor_thickness_mm, 0.45);
  EXPECT_DOUBLE_EQ(*m.dead_time_s, 1.25e-7);
  EXPECT_DOUBLE_EQ(*m.saturation_value, 1e6);
  EXPECT_EQ(m.sensor_material, "Si");
  EXPECT_DOUBLE_EQ(*m.wavelength_nm, 0.154187);
  EXPECT_EQ(m.sample_name, "Z41-b");
  EXPECT_FALSE(m.countrate_correction_applied);
  ASSERT_EQ(m.notes.size(), 1u);
  EXPECT_EQ(m.notes[0], "no exposure time in the file");
}

// A file without any unit means mm with every length; one with units elsewhere leaves them off pixels.
TEST_F(Nexus, ACentreWithoutUnitFollowsTheOtherLengths) {
  detector("distance", 513.8);
  detector("x_pixel_size", 0.172);
  detector("y_pixel_size", 0.172);
  detector("beam_center_x", 14.76792);
  detector("beam_center_y", -0.93224);
  const FrameFacts facts = read();
  EXPECT_NEAR(*facts.metadata.beam_center_x_px, 85.86, 1e-9);
  EXPECT_NEAR(*facts.metadata.beam_center_y_px, -5.42, 1e-9);
  EXPECT_TRUE(noted(facts, "distance has no unit; taken as mm"));
  EXPECT_TRUE(noted(facts, "beam_center_x = 14.7679 has no unit, like the other lengths of the file; taken as mm"));
  EXPECT_TRUE(noted(facts, "outside of the frame; with x along the rows it would be (column -5.42, row 85.86)"));
}

TEST_F(Nexus, ACentreWithoutUnitBesideLengthsWithUnitsIsInPixels) {
  detector("distance", 513.8, "mm");
  detector("beam_center_x", 100.5);
  detector("beam_center_y", 300);  // below the frame of 195 rows; swapped it would be inside
  const FrameFacts facts = read();
  EXPECT_DOUBLE_EQ(*facts.metadata.beam_center_x_px, 100.5);
  EXPECT_TRUE(noted(facts, "taken as pixels"));
  EXPECT_TRUE(noted(facts, "(column 300.00, row 100.50), inside"));
}

TEST_F(Nexus, ACentreInMillimetresNeedsAPixelSize) {
  detector("beam_center_x", 10, "mm");
  const FrameFacts facts = read();
  EXPECT_FALSE(facts.metadata.beam_center_x_px);
  EXPECT_TRUE(noted(facts, "cannot be turned into pixels without a pixel size"));
}

// Found by fuzzing: finite in the file, and beyond all numbers in our unit.
TEST_F(Nexus, ANumberThatIsNoneInOurUnitIsLeftOut) {
  detector("distance", 1e306, "m");
  detector("beam_center_x", 1e300, "mm");
  detector("x_pixel_size", 1e-300, "mm");
  detector("count_time", 1e307, "h");
  const FrameFacts facts = read();
  EXPECT_FALSE(facts.metadata.distance_mm);
  EXPECT_FALSE(facts.metadata.beam_center_x_px);
  EXPECT_EQ(facts.exposures_s.size(), 0);
  EXPECT_TRUE(noted(facts, "distance is not finite; left out"));
}

TEST_F(Nexus, TakesTheExposureFromTheDetectorOrThePresetTime) {
  h5_write_text(file.get(), "/entry/control/mode", "timer");
  write_field(file.get(), "/entry/control/preset", 30, "s");
  EXPECT_EQ(read(2).exposures_s, Eigen::VectorXd::Constant(2, 30));
  EXPECT_TRUE(noted(read(2), "exposure 30 s taken from the monitor's preset time, for each exposure"));
  detector("count_time", 250, "ms");
  EXPECT_EQ(read(2).exposures_s, Eigen::VectorXd::Constant(2, 0.25));
}

TEST_F(Nexus, DoesNotTakeAPresetCountForATime) {
  h5_write_text(file.get(), "/entry/control/mode", "monitor");
  write_field(file.get(), "/entry/control/preset", 1e6);
  EXPECT_EQ(read().exposures_s.size(), 0);
}

TEST_F(Nexus, ReadsOneMonitorForEachExposure) {
  const Eigen::VectorXd each = Eigen::VectorXd::LinSpaced(3, 1, 3);
  h5_write(file.get(), "/entry/control/integral", each);
  EXPECT_EQ(read(3).monitors, each);
  const FrameFacts other = read(2);
  EXPECT_EQ(other.monitors.size(), 0);
  EXPECT_TRUE(noted(other, "the monitor's integral has 3 values for 2 exposures; left out"));
}

TEST_F(Nexus, SharesOneMonitorAmongTheExposures) {
  write_field(file.get(), "/entry/control/integral", 1200);
  EXPECT_EQ(read(1).monitors[0], 1200);
  EXPECT_EQ(read(3).monitors, Eigen::VectorXd::Constant(3, 400));
}

TEST_F(Nexus, TakesOneMonitorValueAnExposureWhereThereIsNoIntegral) {
  const Eigen::VectorXd each = Eigen::VectorXd::LinSpaced(3, 1, 3);
  h5_write(file.get(), "/entry/control/data", each);
  EXPECT_EQ(read(3).monitors, each);
  EXPECT_EQ(read(2).monitors.size(), 0);  // a record over time
}

TEST_F(Nexus, TurnsEnergyIntoWavelengthAndNotesADisagreement) {
  write_field(file.get(), "/entry/instrument/monochromator/energy", 8047.8, "eV");
  EXPECT_NEAR(*read().metadata.wavelength_nm, 0.154060, 1e-6);
  write_field(file.get(), "/entry/instrument/monochromator/wavelength", 0.07, "nm");
  EXPECT_DOUBLE_EQ(*read().metadata.wavelength_nm, 0.07);
  EXPECT_TRUE(noted(read(), "disagree"));
}

TEST_F(Nexus, DoesNotTakeTheEnergyOfTheRingForThatOfThePhotons) {
  h5_make_group(file.get(), "/entry/instrument/source", "NXsource");
  write_field(file.get(), "/entry/instrument/source/energy", 7, "GeV");
  EXPECT_FALSE(read().metadata.wavelength_nm);
}

TEST_F(Nexus, AnyBitOfThePixelMaskMasks) {
  std::vector<double> bits(195 * 487, 0);
  bits[3] = 1;
  bits[500] = 256;
  write_numbers(file.get(), "/entry/instrument/detector/pixel_mask", {195, 487}, bits, {H5T_STD_U32LE, {}, false, 0});
  const FrameFacts facts = read();
  EXPECT_EQ(facts.masked.count(), 2);
  EXPECT_TRUE(facts.masked(0, 3));
  EXPECT_TRUE(facts.masked(1, 13));
}

TEST_F(Nexus, KnowsWhatWasCorrectedBefore) {
  detector("countrate_correction_applied", 1);
  detector("flatfield_applied", 0);
  EXPECT_TRUE(read().metadata.countrate_correction_applied);
  EXPECT_FALSE(read().metadata.flatfield_applied);
}

}  // namespace
}  // namespace sievelight
