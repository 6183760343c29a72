// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrate_from_nothing.hpp"

#include "geometry/refusal.hpp"
#include "geometry/unknown_camera.hpp"

#include <gtest/gtest.h>

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

using namespace testing_support;

/// Within five standard uncertainties of the truth (once in 1e5 by chance), and the distance within `relative`.
void expect_found(const RingScenery& s, const Image& counts, const std::string& what, double relative = 2e-4,
                  const std::string& material = "silver behenate", bool tilt = false) {
  RingOptions options;
  options.refine_tilt = tilt;
  try {
    const RingCalibration c = calibrate_rings(counts, Mask(), knowledge(s), calibrant(material), options);
    EXPECT_NEAR(c.geometry.distance_mm, s.truth.distance_mm, relative * s.truth.distance_mm) << what;
    EXPECT_NEAR(c.geometry.distance_mm, s.truth.distance_mm, 5.0 * standard_uncertainty(c, "distance_mm")) << what;
    EXPECT_NEAR(c.geometry.beam_center_x_px, s.truth.beam_center_x_px,
                5.0 * standard_uncertainty(c, "beam_center_x_px"))
        << what;
    EXPECT_NEAR(c.geometry.beam_center_y_px, s.truth.beam_center_y_px,
                5.0 * standard_uncertainty(c, "beam_center_y_px"))
        << what;
    EXPECT_EQ(c.calibrant, material);
  } catch (const Error& error) {
    ADD_FAILURE() << what << ": " << error.problem();
  }
}

// Beyond the frame only short arcs are in view and the counts know the distance less well: 2e-4 of it by its own u.
TEST(CalibrateFromNothing, FindsCentresInsideInTheCornerAndOutside) {
  for (const auto& [x, y] : {std::pair{150.2, 110.7}, {2.0, 3.0}, {-80.0, 120.0}, {-60.0, -70.0}, {160.0, 330.0}}) {
    const RingScenery s = camera(x, y);
    expect_found(s, poisson(expected_rings(s), 1), fmt::format("centre {}, {}", x, y),
                 x > 0.0 && y < 200.0 ? 2e-4 : 1e-3);
  }
}

TEST(CalibrateFromNothing, StandsATiltOfTwoDegrees) {
  for (const double x : {140.0, -50.0}) {
    RingScenery s = camera(x, 90.0, 200.0);
    s.truth.pitch_rad = radians(2.0);
    s.truth.yaw_rad = radians(-1.5);
    expect_found(s, poisson(expected_rings(s), 2), fmt::format("tilted, column {}", x), 5e-4, "silver behenate", true);
  }
}

TEST(CalibrateFromNothing, StandsAFewCountsDefectsBeamstopTextureAndParasiticScattering) {
  RingScenery weak = camera(150.2, 110.7);
  weak.amplitude = 3.0;
  weak.flat = 0.5;
  expect_found(weak, poisson(expected_rings(weak), 3), "three counts on the crest", 1e-3);
  weak.truth.beam_center_x_px = -40.0;
  expect_found(weak, poisson(expected_rings(weak), 4), "three counts, centre outside", 2e-3);

  const RingScenery s = camera(150.2, 90.7);
  Image counts = poisson(expected_rings(s), 5);
  add_defects(counts, 5);
  expect_found(s, counts, "gaps, hot pixels, a spot");

  RingScenery strong = s;
  strong.parasitic = 100.0;  // at the first ring as bright as the ring, rising as q^-4
  Image expected = expected_rings(strong);
  add_beamstop(expected, strong, 20.0);
  expect_found(strong, poisson(expected, 6), "beamstop and parasitic scattering");
  add_beamstop(expected = expected_rings(strong), strong, 55.0);
  expect_found(strong, poisson(expected, 7), "first order behind the beamstop");

  add_texture(expected = expected_rings(s), s, 0.8);
  expect_found(s, poisson(expected, 8), "texture");

  RingScenery oblong = s;
  oblong.truth.pixel_size_y_mm = 0.3;
  expect_found(oblong, poisson(expected_rings(oblong), 9), "oblong pixels");
}

TEST(CalibrateFromNothing, FindsTheWideAngleCalibrants) {
  for (const auto& [material, distance, fading] :
       {std::tuple{"lanthanum hexaboride", 120.0, 0.9}, {"silicon", 100.0, 0.9}, {"corundum", 150.0, 0.97}}) {
    RingScenery s = camera(20.0, 30.0, distance);
    s.truth.wavelength_nm = 0.05;
    s.d_nm = calibrant(material).d_nm;
    s.sigma_per_nm = 0.2;
    s.amplitude = 80.0;
    s.fading = fading;
    expect_found(s, poisson(expected_rings(s), 10), material, 5e-4, material);
  }
}

// A frame as large as detectors write them, thinned to a fraction of its pixels for the search and refined on all.
TEST(CalibrateFromNothing, FindsTheRingsOfAMillionPixels) {
  RingScenery s = camera(520.0, 480.0, 600.0);
  s.rows = s.columns = 1000;
  s.truth.pixel_size_x_mm = s.truth.pixel_size_y_mm = 0.1;
  const Image counts = poisson(expected_rings(s), 11);
  expect_found(s, counts, "one million pixels");
}

TEST(CalibrateFromNothing, RefusesOneRingUnlessTheDistanceIsKnown) {
  RingScenery s = camera(130.0, 100.0, 700.0);  // 93 px, and 186 px beyond the frame's corners
  const Image counts = poisson(expected_rings(s), 12);
  expect_refusal<DataError>([&] { calibrate_rings(counts, Mask(), knowledge(s), calibrant("AgBeh")); }, "only one ring",
                            "Give the distance");
  RingKnowledge known = knowledge(s);
  known.distance_mm = 780.0;
  const RingCalibration c = calibrate_rings(counts, Mask(), known, calibrant("AgBeh"));
  EXPECT_NEAR(c.geometry.distance_mm, 700.0, 5.0 * standard_uncertainty(c, "distance_mm"));
}

TEST(CalibrateFromNothing, RefusesSamples) {
  RingScenery s = camera(150.2, 110.7);
  RingScenery bare = s;
  bare.amplitude = 0.0;
  bare.parasitic = 30.0;
  EXPECT_THROW(calibrate_rings(poisson(expected_rings(bare), 13), Mask(), knowledge(s), calibrant("AgBeh")), DataError);
  RingScenery hexagonal = s;
  hexagonal.d_nm = 6.0 / Eigen::ArrayXd{{1.0, std::sqrt(3.0), 2.0, std::sqrt(7.0)}};
  expect_refusal<DataError>(
      [&] { calibrate_rings(poisson(expected_rings(hexagonal), 14), Mask(), knowledge(s), calibrant("AgBeh")); },
      "hexagonally ordered pores", "not a sample");
  expect_refusal<DataError>(
      [&] { calibrate_rings(poisson(Image::Constant(200, 260, 8.0), 15), Mask(), knowledge(s), calibrant("AgBeh")); },
      "no sharp ring", "calibrant and not a sample");
}

TEST(CalibrateFromNothing, RefusesACallThatCannotWork) {
  const RingScenery s = camera(150.2, 110.7);
  const Image counts = Image::Constant(200, 260, 8.0);
  RingKnowledge k = knowledge(s);
  k.wavelength_nm = 0.0;
  expect_refusal<InputError>([&] { calibrate_rings(counts, Mask(), k, calibrant("AgBeh")); }, "wavelength 0 nm",
                             "must be known");
  k = knowledge(s);
  k.distance_mm = -3.0;
  expect_refusal<InputError>([&] { calibrate_rings(counts, Mask(), k, calibrant("AgBeh")); }, "distance_mm is -3",
                             "mm");
}

}  // namespace
}  // namespace sievelight
