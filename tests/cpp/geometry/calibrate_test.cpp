// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrate.hpp"

#include "geometry/refusal.hpp"
#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using testing_support::expect_refusal;
using testing_support::poisson;
using testing_support::RingScenery;

/// A compact laboratory camera: one whole behenate ring (158 px) and arcs of the second (317 px).
RingScenery laboratory() {
  RingScenery s{.truth = {.wavelength_nm = 0.154187,
                          .distance_mm = 600.0,
                          .beam_center_x_px = 251.1,
                          .beam_center_y_px = 298.4,
                          .pixel_size_x_mm = 0.1,
                          .pixel_size_y_mm = 0.1}};
  s.d_nm = calibrant("silver behenate").d_nm;
  return s;
}

/// A small detector closer by, for the tests that repeat: rings at 40, 79, 119, 159 px.
RingScenery small_frame() {
  RingScenery s = laboratory();
  s.truth.distance_mm = 300.0;
  s.truth.pixel_size_x_mm = s.truth.pixel_size_y_mm = 0.2;
  s.truth.beam_center_x_px = 120.3;
  s.truth.beam_center_y_px = 70.8;
  s.rows = 160;
  s.columns = 240;
  s.sigma_per_nm = 0.035;
  return s;
}

/// 5 % off in distance and 10 px off in centre at once, in direction `turn` of eight.
DetectorGeometry off(DetectorGeometry g, int turn) {
  g.distance_mm *= turn % 2 == 0 ? 1.05 : 0.95;
  g.beam_center_x_px += 10.0 * std::cos(turn * pi / 4.0);
  g.beam_center_y_px += 10.0 * std::sin(turn * pi / 4.0);
  return g;
}

Mask no_mask(const RingScenery& s) { return Mask::Constant(s.rows, s.columns, false); }

/// Within 1e-4 of the distance and of the largest radius in view (px), and within 4 standard uncertainties.
void expect_found(const RingCalibration& found, const RingScenery& s) {
  const auto near = [&](const char* name, double value, double truth, double tolerance) {
    EXPECT_NEAR(value, truth, tolerance) << name;
    EXPECT_NEAR(value, truth, 4.0 * standard_uncertainty(found, name)) << name;
  };
  near("distance_mm", found.geometry.distance_mm, s.truth.distance_mm, 1e-4 * s.truth.distance_mm);
  near("beam_center_x_px", found.geometry.beam_center_x_px, s.truth.beam_center_x_px, 0.05);
  near("beam_center_y_px", found.geometry.beam_center_y_px, s.truth.beam_center_y_px, 0.05);
}

TEST(CalibrateRings, FindsTheLaboratoryCameraFromEightStartsFivePercentAndTenPixelsOff) {
  const RingScenery s = laboratory();
  const Image counts = poisson(expected_rings(s), 1);
  for (int turn = 0; turn < 8; ++turn) {
    const RingCalibration found = calibrate_rings(counts, Mask(), off(s.truth, turn), calibrant("silver behenate"));
    expect_found(found, s);
    EXPECT_EQ(found.rings.size(), 2);
    EXPECT_TRUE(found.warnings.empty()) << found.warnings.front();
    EXPECT_EQ(found.parameters.size(), 3u);
    EXPECT_EQ(found.calibrant_relative_u, 5e-4);
  }
}

TEST(CalibrateRings, FindsABeamPointOutsideTheFrame) {
  RingScenery s = laboratory();
  s.truth.distance_mm = 300.0;
  s.truth.beam_center_x_px = -35.0;
  const Image counts = poisson(expected_rings(s), 2);
  for (const int turn : {0, 3, 6}) expect_found(calibrate_rings(counts, no_mask(s), off(s.truth, turn), s.d_nm), s);
}

TEST(CalibrateRings, StandsGapsHotPixelsABeamstopAndASteepParasiticBackground) {
  RingScenery s = laboratory();
  s.truth.distance_mm = 300.0;
  s.parasitic = 20.0;
  Image expected = expected_rings(s);
  for (Eigen::Index y = 0; y < s.rows; ++y)  // a leaking beamstop on an arm, not masked
    for (Eigen::Index x = 0; x < s.columns; ++x) {
      const double dx = static_cast<double>(x) - 255.0, dy = static_cast<double>(y) - 300.0;
      if (std::hypot(dx, dy) < 30.0 || (dx > 0.0 && std::abs(dy) < 6.0)) expected(y, x) *= 0.02;
    }
  Image counts = poisson(expected, 3);
  counts.middleRows(150, 17).setZero();  // gaps between modules, not masked
  counts.middleCols(400, 7).setZero();
  std::mt19937 random(3);
  for (int i = 0; i < 60; ++i) counts.data()[random() % static_cast<unsigned>(counts.size())] = 1e6;
  counts.block(90, 330, 3, 4).setConstant(4000.0);  // a single-crystal spot
  const RingCalibration found = calibrate_rings(counts, Mask(), off(s.truth, 5), s.d_nm);
  expect_found(found, s);
  EXPECT_GE(found.rings.size(), 4);
}

TEST(CalibrateRings, DoesNotLookAtMaskedPixels) {
  const RingScenery s = laboratory();
  Image counts = poisson(expected_rings(s), 4);
  Mask masked = no_mask(s);
  masked.block(200, 0, 120, 251).setConstant(true);
  const RingCalibration before = calibrate_rings(counts, masked, off(s.truth, 1), s.d_nm);
  expect_found(before, s);
  std::mt19937 random(4);
  for (Eigen::Index y = 200; y < 320; ++y)
    for (Eigen::Index x = 0; x < 251; ++x) counts(y, x) = static_cast<double>(random() % 100000);
  counts(250, 100) = std::numeric_limits<double>::quiet_NaN();
  const RingCalibration after = calibrate_rings(counts, masked, off(s.truth, 1), s.d_nm);
  EXPECT_EQ(after.geometry.distance_mm, before.geometry.distance_mm);
  EXPECT_EQ(after.covariance, before.covariance);
}

TEST(CalibrateRings, LeavesOutAForeignFeatureNextToARing) {
  RingScenery s = laboratory();
  s.truth.distance_mm = 250.0;
  Image expected = expected_rings(s);
  RingScenery foreign = s;  // a strong ring 5 px inside the third
  foreign.d_nm = Eigen::VectorXd::Constant(1, 2.0);
  foreign.amplitude = 150.0;
  foreign.flat = 0.0;
  expected += expected_rings(foreign);
  const RingCalibration found = calibrate_rings(poisson(expected, 5), Mask(), off(s.truth, 2), s.d_nm);
  EXPECT_NEAR(found.geometry.distance_mm, 250.0, 5.0 * standard_uncertainty(found, "distance_mm"));
  EXPECT_LT(standard_uncertainty(found, "distance_mm"), 0.05);
}

TEST(CalibrateRings, RefinesATilt) {
  RingScenery s = laboratory();
  s.truth.distance_mm = 250.0;
  s.truth.beam_center_x_px = 300.0;
  s.truth.beam_center_y_px = 240.0;
  s.truth.pitch_rad = radians(6.0);
  s.truth.yaw_rad = radians(-4.0);
  DetectorGeometry start = off(s.truth, 3);
  start.pitch_rad = start.yaw_rad = 0.0;
  const RingCalibration found =
      calibrate_rings(poisson(expected_rings(s), 6), Mask(), start, s.d_nm, {.refine_tilt = true});
  expect_found(found, s);
  EXPECT_EQ(found.parameters.back(), "yaw_rad");
  EXPECT_NEAR(found.geometry.pitch_rad, s.truth.pitch_rad, 4.0 * standard_uncertainty(found, "pitch_rad"));
  EXPECT_NEAR(found.geometry.yaw_rad, s.truth.yaw_rad, 4.0 * standard_uncertainty(found, "yaw_rad"));
  EXPECT_LT(standard_uncertainty(found, "yaw_rad"), radians(0.1));
}

// Coverage, the promise behind every u: over n repeats the pulls (error over u) of a right u have mean 0 +- 1/sqrt(n),
// rms 1 +- 1/sqrt(2 n), and 99.7 % lie within 3. Four standard deviations bound each; 95 % within 3 is the requirement.
void expect_coverage(const RingScenery& s, bool tilt, int repeats) {
  const Image expected = expected_rings(s);
  const std::size_t parameters = tilt ? 5 : 3;
  Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(parameters), sum2 = sum, inside = sum;
  for (int i = 0; i < repeats; ++i) {
    DetectorGeometry start = off(s.truth, i);
    if (tilt) start.pitch_rad = start.yaw_rad = 0.0;
    const RingCalibration found =
        calibrate_rings(poisson(expected, 100 + i), Mask(), start, s.d_nm, {.refine_tilt = tilt});
    ASSERT_EQ(found.parameters.size(), parameters);
    const DetectorGeometry &g = found.geometry, &t = s.truth;
    Eigen::ArrayXd error(5);
    error << g.distance_mm - t.distance_mm, g.beam_center_x_px - t.beam_center_x_px,
        g.beam_center_y_px - t.beam_center_y_px, g.pitch_rad - t.pitch_rad, g.yaw_rad - t.yaw_rad;
    const Eigen::ArrayXd pull = error.head(parameters) / found.covariance.diagonal().array().sqrt();
    sum += pull;
    sum2 += pull.square();
    inside += (pull.abs() < 3.0).cast<double>();
  }
  const double n = repeats;
  for (std::size_t p = 0; p < parameters; ++p) {
    EXPECT_NEAR(sum[p] / n, 0.0, 4.0 / std::sqrt(n)) << p;
    EXPECT_NEAR(std::sqrt(sum2[p] / n), 1.0, 4.0 / std::sqrt(2.0 * n)) << p;
    EXPECT_GE(inside[p] / n, 0.95) << p;
  }
}

TEST(CalibrateRings, StatesUncertaintiesThatCoverTheTruth) { expect_coverage(small_frame(), false, 60); }

TEST(CalibrateRings, StatesUncertaintiesThatCoverTheTruthOnAWeakFrame) {
  RingScenery s = small_frame();
  s.amplitude = 3.0;
  s.flat = 0.5;
  expect_coverage(s, false, 60);
}

TEST(CalibrateRings, StatesUncertaintiesThatCoverTheTruthWithATilt) {
  RingScenery s = small_frame();
  s.truth.distance_mm = 200.0;
  s.truth.pitch_rad = radians(5.0);
  s.truth.yaw_rad = radians(-3.0);
  expect_coverage(s, true, 60);
}

TEST(CalibrateRings, GivesTheSameNumbersOnOneThreadAndOnTwo) {
  const RingScenery s = small_frame();
  const Image counts = poisson(expected_rings(s), 7);
  setenv("SIEVELIGHT_THREADS", "1", 1);
  const RingCalibration one = calibrate_rings(counts, Mask(), off(s.truth, 0), s.d_nm);
  setenv("SIEVELIGHT_THREADS", "2", 1);
  const RingCalibration two = calibrate_rings(counts, Mask(), off(s.truth, 0), s.d_nm);
  unsetenv("SIEVELIGHT_THREADS");
  EXPECT_EQ(one.geometry.distance_mm, two.geometry.distance_mm);
  EXPECT_EQ(one.covariance, two.covariance);
}

TEST(CalibrateRings, RefusesWhatShowsNoRing) {
  const RingScenery s = small_frame();
  const Calibrant behenate = calibrant("silver behenate");
  expect_refusal<DataError>(
      [&] { calibrate_rings(poisson(Image::Constant(160, 240, 10.0), 8), Mask(), s.truth, behenate); },
      "no ring stands out", "really shows the calibrant");
  RingScenery bare = s;  // a steep background alone
  bare.amplitude = 0.0;
  bare.parasitic = 100.0;
  expect_refusal<DataError>([&] { calibrate_rings(poisson(expected_rings(bare), 9), Mask(), s.truth, behenate); },
                            "order 1 at 39.6 px", "wavelength (0.154187 nm)");
}

TEST(CalibrateRings, RefusesACallThatCannotWork) {
  const RingScenery s = small_frame();
  const Image counts = Image::Constant(160, 240, 5.0);
  expect_refusal<InputError>([&] { calibrate_rings(counts, Mask::Constant(4, 4, false), s.truth, s.d_nm); },
                             "mask of 4 rows and 4 columns", "own shape");
  expect_refusal<InputError>([&] { calibrate_rings(Image::Constant(1, 480, 5.0), Mask(), s.truth, s.d_nm); },
                             "1 rows and 480 columns", "area detector");
  expect_refusal<InputError>([&] { calibrate_rings(counts, Mask(), s.truth, Eigen::VectorXd::Constant(1, 0.05)); },
                             "below 2 theta = 80 degrees", "nm");
  expect_refusal<InputError>([&] { calibrate_rings(counts, Mask(), s.truth, s.d_nm, {.search_relative = 0.0}); },
                             "search_relative 0", "(0, 0.3]");
  DetectorGeometry nowhere = s.truth;
  nowhere.distance_mm = -1.0;
  expect_refusal<InputError>([&] { calibrate_rings(counts, Mask(), nowhere, s.d_nm); }, "distance_mm is -1", "mm");
}

TEST(CalibrateRings, AnswersForTheUncertaintyOfEveryParameter) {
  const RingScenery s = small_frame();
  const RingCalibration found = calibrate_rings(poisson(expected_rings(s), 10), Mask(), s.truth, s.d_nm);
  EXPECT_GT(standard_uncertainty(found, "distance_mm"), 0.0);
  EXPECT_EQ(standard_uncertainty(found, "pitch_rad"), 0.0);  // kept
  expect_refusal<InputError>([&] { standard_uncertainty(found, "length"); }, "'length' is no parameter", "distance_mm");
}

}  // namespace
}  // namespace sievelight
