// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibration_warnings.hpp"

#include "geometry/refusal.hpp"
#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace sievelight {
namespace {

using testing_support::expect_refusal;
using testing_support::poisson;
using testing_support::RingScenery;

RingScenery scenery() {
  RingScenery s{.truth = {.wavelength_nm = 0.154187,
                          .distance_mm = 300.0,
                          .beam_center_x_px = 120.0,
                          .beam_center_y_px = 80.0,
                          .pixel_size_x_mm = 0.2,
                          .pixel_size_y_mm = 0.2},
                .rows = 160,
                .columns = 240};
  s.d_nm = calibrant("silver behenate").d_nm;
  s.sigma_per_nm = 0.035;
  return s;
}

std::vector<std::string> warnings(const RingScenery& s, const DetectorGeometry& start,
                                  const RingOptions& options = {}) {
  return calibrate_rings(poisson(expected_rings(s), 1), Mask(), start, s.d_nm, options).warnings;
}

bool warned(const std::vector<std::string>& list, const std::string& of) {
  return std::ranges::any_of(list, [&](const std::string& w) { return w.find(of) != std::string::npos; });
}

TEST(CalibrationWarnings, AreAbsentFromAGoodCalibration) { EXPECT_TRUE(warnings(scenery(), scenery().truth).empty()); }

TEST(CalibrationWarnings, NameASingleRing) {
  RingScenery s = scenery();
  s.truth.distance_mm = 700.0;  // one ring, at 92 px
  const auto list = warnings(s, s.truth, {.refine_tilt = true});
  EXPECT_TRUE(warned(list, "only one ring (order 1)"));
  EXPECT_TRUE(warned(list, "the tilt was asked for but kept"));
}

TEST(CalibrationWarnings, NameAShortArc) {
  RingScenery s = scenery();
  s.truth.beam_center_x_px = -150.0;  // rings of 158 px and more, seen over 160 rows
  s.columns = 180;
  s.amplitude = 400.0;
  EXPECT_TRUE(warned(warnings(s, s.truth), "the longest arc of a ring spans"));
}

TEST(CalibrationWarnings, NameATiltThatIsNotThereAndOneThatIs) {
  RingScenery s = scenery();
  EXPECT_TRUE(warned(warnings(s, s.truth, {.refine_tilt = true}), "the tilt is not determined"));
  s.truth.distance_mm = 150.0;
  s.truth.yaw_rad = radians(5.0);
  DetectorGeometry flat = s.truth;
  flat.yaw_rad = 0.0;
  EXPECT_TRUE(warned(warnings(s, flat), "the rings fit better with a tilt"));
}

TEST(CalibrationWarnings, NameScatterThatTheCountsDoNotExplain) {
  RingScenery s = scenery();
  s.truth.distance_mm = 150.0;
  s.truth.pitch_rad = radians(10.0);
  DetectorGeometry flat = s.truth;
  flat.pitch_rad = 0.0;
  EXPECT_TRUE(warned(warnings(s, flat), "px about their rings where the counts explain"));
  s = scenery();  // few counts scatter as much, and that is no defect of the geometry
  s.truth.distance_mm = 500.0;
  s.amplitude = 1.0;
  s.flat = 0.2;
  const RingCalibration weak = calibrate_rings(poisson(expected_rings(s), 3), Mask(), s.truth, s.d_nm);
  EXPECT_GT(weak.residual_px, 0.3);
  EXPECT_FALSE(warned(weak.warnings, "scatter"));
}

TEST(CalibrationWarnings, NameMissingRings) {
  RingScenery s = scenery();
  s.truth.distance_mm = 200.0;
  const Eigen::VectorXd all = s.d_nm;
  s.d_nm = all.segment(2, 1);  // the sample shows the third ring only
  const auto list = calibrate_rings(poisson(expected_rings(s), 2), Mask(), s.truth, all).warnings;
  EXPECT_TRUE(warned(list, "rings in view were found (missing: 1, 2, 4"));
}

TEST(CalibrationWarnings, NameABroadHump) {
  RingScenery s = scenery();
  s.d_nm = s.d_nm.head(1).eval();
  s.truth.distance_mm = 500.0;
  s.sigma_per_nm = 0.09;
  EXPECT_TRUE(warned(warnings(s, s.truth), "the rings are broad"));
}

TEST(CalibrationWarnings, NameAMatchAtTheEdgeOfTheSearch) {
  const RingScenery s = scenery();
  DetectorGeometry far = s.truth;
  far.distance_mm *= 1.10;
  EXPECT_TRUE(warned(warnings(s, far), "at the edge of the search"));
}

TEST(CalibrationWarnings, MeasureTheArcInView) {
  const RingScenery s = scenery();
  const Image counts = Image::Constant(s.rows, s.columns, 1.0);
  Mask half = Mask::Constant(s.rows, s.columns, false);
  half.rightCols(120).setConstant(true);
  const Eigen::VectorXd angles = 2.0 * (s.truth.wavelength_nm / 2.0 * s.d_nm.cwiseInverse()).array().asin();
  const RingOptions options;
  const Mask none = Mask::Constant(s.rows, s.columns, false);
  const RingScene whole{counts, none, s.truth, angles, options}, cut{counts, half, s.truth, angles, options};
  // Ring one (40 px) is whole and half; a band of 2 px around it holds 500 pixels, so 5 % is counting pixels at its
  // edge.
  EXPECT_NEAR(visible_arc_deg(whole, s.truth)[0], 360.0, 18.0);
  EXPECT_NEAR(visible_arc_deg(cut, s.truth)[0], 180.0, 9.0);
}

TEST(CalibrationWarnings, RefuseAFrameWhereNoRingCanFall) {
  RingScenery s = scenery();
  s.truth.distance_mm = 6000.0;
  expect_refusal<DataError>([&] { warnings(s, s.truth); }, "no ring falls onto the frame", "distance (6000 mm)");
  expect_refusal<DataError>(
      [&] { calibrate_rings(Image::Zero(20, 20), Mask::Constant(20, 20, true), scenery().truth, s.d_nm); },
      "no usable pixel", "mask");
}

TEST(CalibrationWarnings, RefuseRingsThatLieOnNoCircles) {
  const RingScenery s = scenery();
  const Eigen::VectorXd angles = Eigen::VectorXd::Constant(1, 0.05);
  const Image counts = Image::Zero(20, 20);
  const Mask none = Mask::Constant(20, 20, false);
  const RingOptions options;
  const RingScene scene{counts, none, s.truth, angles, options};
  const std::vector<RingPoint> points(10, RingPoint{.order = 1, .sigma_px = 1.5});
  RingFit fit;
  fit.rms_px = 5.0;
  expect_refusal<DataError>([&] { refuse_rings_that_disagree(scene, fit, points); }, "5.0 px rms off", "calibrant");
  fit.rms_px = 1.0;
  EXPECT_NO_THROW(refuse_rings_that_disagree(scene, fit, points));
}

}  // namespace
}  // namespace sievelight
