// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/nxcansas_info.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

CurveInfo full_info() {
  CurveInfo info;
  info.title = "t";
  info.run = "r";
  info.sample_name = "s";
  info.thickness_mm = 1.1;
  info.transmission = 0.4;
  info.temperature_C = 21.3;
  info.sample_details = {"calcined", "ground"};
  InstrumentInfo& i = info.instrument;
  i.probe = "x-ray";
  i.source_type = "Fixed Tube X-ray";
  i.beam_shape = "line";
  i.wavelength_nm = 0.154;
  i.wavelength_spread = 0.004;
  i.collimation_length_mm = 300;
  i.detector_name = "area";
  i.distance_mm = 612.3;
  i.beam_center_px = {251.1, -3.25};
  i.pixel_size_mm = {0.1, 0.172};
  i.pitch_deg = 0.25;
  i.yaw_deg = -0.5;
  i.roll_deg = 90;
  i.slit_length_per_nm = 0.2;
  info.steps = {{"dark", "taken off", {{"exposure", "30 s"}}, {"first note", "second note"}}, {"scale", "", {}}};
  info.notes = {"one", "two"};
  return info;
}

class NxcansasInfo : public testing::Test {
 protected:
  std::unique_lock<std::recursive_mutex> lock = hdf5_lock();
  Scratch scratch;
  H5Handle file = h5_create(scratch / "f.h5");
  H5Handle entry = h5_make_group(file.get(), "entry", "NXentry");
};

TEST_F(NxcansasInfo, ComesBackWhole) {
  const CurveInfo wanted = full_info();
  write_info(entry.get(), wanted);
  const CurveInfo found = read_info(entry.get());
  EXPECT_EQ(found.title, "t");
  EXPECT_EQ(found.run, "r");
  EXPECT_EQ(found.sample_name, "s");
  EXPECT_EQ(found.thickness_mm, 1.1);
  EXPECT_EQ(found.transmission, 0.4);
  EXPECT_EQ(found.temperature_C, 21.3);
  EXPECT_EQ(found.sample_details, wanted.sample_details);
  const InstrumentInfo &a = found.instrument, &b = wanted.instrument;
  EXPECT_EQ(a.probe, b.probe);
  EXPECT_EQ(a.source_type, b.source_type);
  EXPECT_EQ(a.beam_shape, b.beam_shape);
  EXPECT_EQ(a.wavelength_nm, b.wavelength_nm);
  EXPECT_NEAR(a.wavelength_spread, b.wavelength_spread, 1e-17);  // goes through a full width in nm
  EXPECT_EQ(a.collimation_length_mm, b.collimation_length_mm);
  EXPECT_EQ(a.detector_name, b.detector_name);
  EXPECT_EQ(a.distance_mm, b.distance_mm);
  EXPECT_EQ(a.beam_center_px, b.beam_center_px);
  EXPECT_EQ(a.pixel_size_mm, b.pixel_size_mm);
  EXPECT_EQ(a.pitch_deg, b.pitch_deg);
  EXPECT_EQ(a.yaw_deg, b.yaw_deg);
  EXPECT_EQ(a.roll_deg, b.roll_deg);
  EXPECT_EQ(a.slit_length_per_nm, b.slit_length_per_nm);
  EXPECT_EQ(found.notes, wanted.notes);
  ASSERT_EQ(found.steps.size(), 2u);
  EXPECT_EQ(found.steps[0].terms, wanted.steps[0].terms);
  EXPECT_EQ(found.steps[0].notes, wanted.steps[0].notes);
  EXPECT_TRUE(found.steps[1].notes.empty());
}

TEST_F(NxcansasInfo, WritesNothingThatIsNotKnown) {
  write_info(entry.get(), {});
  for (const char* field : {"sample/thickness", "sample/temperature", "instrument/collimation",
                            "instrument/detector/SDD", "instrument/source"})
    EXPECT_FALSE(h5_exists(entry.get(), field)) << field;
  const CurveInfo found = read_info(entry.get());
  EXPECT_TRUE(std::isnan(found.temperature_C));
  EXPECT_TRUE(std::isnan(found.instrument.beam_center_px[0]));
  EXPECT_TRUE(found.notes.empty());
}

// Source: NXcanSAS 1.1: incident_wavelength_spread is a full width at half maximum; sqrt(8 ln 2) sd of a Gaussian.
TEST_F(NxcansasInfo, WritesTheSpreadAsAFullWidth) {
  write_info(entry.get(), full_info());
  EXPECT_NEAR((*h5_numbers(entry.get(), "instrument/source/incident_wavelength_spread"))[0],
              2 * std::sqrt(2 * std::numbers::ln2) * 0.004 * 0.154, 1e-15);
}

TEST(NxcansasWords, TakesTheOlderRadiationField) {
  for (const auto& [word, probe, type] : {std::tuple{"neutron", "neutron", ""},
                                          {"Rotating Anode X-ray", "", "Rotating Anode X-ray"},
                                          {"sunlight", "", ""}}) {
    InstrumentInfo info;
    info.source_type = word;
    std::vector<std::string> notes;
    sort_source_words(info, notes);
    EXPECT_EQ(info.probe, probe);
    EXPECT_EQ(info.source_type, type);
    EXPECT_EQ(notes.size(), std::string(word) == "sunlight" ? 1u : 0u);
  }
}

TEST(NxcansasWords, ConvertsUnitsOrSaysWhyNot) {
  std::vector<std::string> notes;
  EXPECT_NEAR(in_celsius({"temperature", 300, "K"}, notes), 26.85, 1e-12);
  EXPECT_EQ(in_celsius({"temperature", 20, "C"}, notes), 20);
  EXPECT_EQ(in_pixels({"beam_center_x", 12.5, "pixels"}, not_known, notes), 12.5);
  EXPECT_DOUBLE_EQ(in_pixels({"beam_center_x", 2.0, "cm"}, 0.1, notes), 200);
  EXPECT_DOUBLE_EQ(in_unit({"SDD", 0.6, "m"}, Quantity::length_mm, notes), 600);
  EXPECT_TRUE(notes.empty());
  EXPECT_TRUE(std::isnan(in_celsius({"temperature", 70, "F"}, notes)));
  EXPECT_TRUE(std::isnan(in_pixels({"beam_center_x", 2.0, "mm"}, not_known, notes)));
  EXPECT_TRUE(std::isnan(in_unit({"SDD", 0.6, "s"}, Quantity::length_mm, notes)));
  EXPECT_EQ(notes.size(), 3u);
}

TEST(NxcansasWords, RefusesWordsThatNexusDoesNotList) {
  InstrumentInfo info;
  info.source_type = "lamp";
  const std::string words = refusal<InputError>([&] { check(info); });
  EXPECT_NE(words.find("'lamp' is not a source type that NeXus lists"), std::string::npos) << words;
  EXPECT_NE(words.find("Rotating Anode X-ray"), std::string::npos) << words;
}

}  // namespace
}  // namespace sievelight
