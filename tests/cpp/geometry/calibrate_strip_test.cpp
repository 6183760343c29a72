// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrate_strip.hpp"

#include "geometry/refusal.hpp"
#include "geometry/unknown_camera.hpp"
#include "sievelight/geometry/pixel_map.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using namespace testing_support;

/// A strip of 1280 pixels of 0.05 mm behenate orders some 4 mm apart.
RingScenery strip(double x_px, double distance_mm = 150.0) {
  RingScenery s = camera(x_px, 0.0, distance_mm);
  s.truth.pixel_size_x_mm = 0.05;
  s.truth.pixel_size_y_mm = 8.0;
  s.rows = 1;
  s.columns = 1280;
  s.amplitude = 2000.0;
  s.flat = 50.0;
  s.parasitic = 100.0;
  return s;
}

/// Expected counts along the strip's middle; a beamstop of 30 px hides the beam.
Image on_the_strip(const RingScenery& s, bool stop = true) {
  Image image(1, s.columns);
  for (Eigen::Index x = 0; x < s.columns; ++x) {
    const double q = q_per_nm(s.truth, static_cast<double>(x), 0.0);
    double sum = s.flat + s.parasitic / std::pow(std::max(q, 0.15), 4), height = s.amplitude;
    for (const double d : s.d_nm) {
      sum += height * std::exp(-0.5 * std::pow((q - 2.0 * pi / d) / s.sigma_per_nm, 2));
      height *= s.fading;
    }
    image(0, x) = stop && std::abs(static_cast<double>(x) - s.truth.beam_center_x_px) < 30.0 ? 0.0 : sum;
  }
  return image;
}

// Closed form: L tan(2 theta) of Bragg's angles. Five standard uncertainties, and 1e-4 of the distance.
TEST(CalibrateStrip, FindsDistanceAndBeamFromBothSidesAndFromOne) {
  for (const double x : {640.3, 200.7}) {
    const RingScenery s = strip(x);
    const RingCalibration c = calibrate_strip(poisson(on_the_strip(s), 1), Mask(), knowledge(s), calibrant("AgBeh"));
    EXPECT_NEAR(c.geometry.distance_mm, 150.0, 5.0 * standard_uncertainty(c, "distance_mm"));
    EXPECT_NEAR(c.geometry.beam_center_x_px, x, 5.0 * standard_uncertainty(c, "beam_center_x_px"));
    EXPECT_LT(standard_uncertainty(c, "distance_mm"), 1e-3 * 150.0);
    EXPECT_EQ(c.parameters, (std::vector<std::string>{"distance_mm", "beam_center_x_px"}));
    EXPECT_EQ(c.calibrant_relative_u, 5e-4);
    EXPECT_GE(c.rings.size(), 4);
  }
}

TEST(CalibrateStrip, ReadsAColumnAsItReadsARow) {
  const RingScenery s = strip(500.0);
  const Image row = poisson(on_the_strip(s), 2);
  RingKnowledge turned = knowledge(s);
  std::swap(turned.pixel_size_x_mm, turned.pixel_size_y_mm);
  const Image column = row.transpose();
  const RingCalibration a = calibrate_strip(row, Mask(), knowledge(s), calibrant("AgBeh")),
                        b = calibrate_strip(column, Mask(), turned, calibrant("AgBeh"));
  EXPECT_EQ(a.geometry.distance_mm, b.geometry.distance_mm);
  EXPECT_EQ(a.geometry.beam_center_x_px, b.geometry.beam_center_y_px);
  EXPECT_EQ(b.parameters[1], "beam_center_y_px");
}

// Property: pulls have rms 1 +- 1/sqrt(2 n); n = 100, four standard deviations.
TEST(CalibrateStrip, StatesItsScatter) {
  RingScenery s = strip(640.3);
  s.amplitude = 300.0;
  const Image expected = on_the_strip(s);
  double l2 = 0.0, x2 = 0.0;
  for (int i = 0; i < 100; ++i) {
    const RingCalibration c = calibrate_strip(poisson(expected, 100 + i), Mask(), knowledge(s), calibrant("AgBeh"));
    l2 += std::pow((c.geometry.distance_mm - 150.0) / standard_uncertainty(c, "distance_mm"), 2);
    x2 += std::pow((c.geometry.beam_center_x_px - 640.3) / standard_uncertainty(c, "beam_center_x_px"), 2);
  }
  // The scale by scatter acts only upwards, so that u is a little too large on average.
  EXPECT_NEAR(std::sqrt(l2 / 100.0), 0.95, 4.0 / std::sqrt(200.0));
  EXPECT_NEAR(std::sqrt(x2 / 100.0), 0.95, 4.0 / std::sqrt(200.0));
}

TEST(CalibrateStrip, RefusesToCountOrdersItCannotSee) {
  const RingScenery s = strip(-700.0, 300.0);  // the first orders lie before the strip: nothing says which these are
  const Image counts = poisson(on_the_strip(s), 3);
  expect_refusal<DataError>([&] { calibrate_strip(counts, Mask(), knowledge(s), calibrant("AgBeh")); }, "equally well",
                            "Give the beam point");
  RingKnowledge known = knowledge(s);
  known.beam_center_px = std::pair{-690.0, 0.0};
  const RingCalibration c = calibrate_strip(counts, Mask(), known, calibrant("AgBeh"));
  EXPECT_NEAR(c.geometry.distance_mm, 300.0, 5.0 * standard_uncertainty(c, "distance_mm"));
  ASSERT_FALSE(c.warnings.empty());
  EXPECT_NE(c.warnings[0].find("one side of the beam"), std::string::npos);
}

TEST(CalibrateStrip, RefusesSamplesAndAreaDetectors) {
  RingScenery s = strip(640.3);
  s.amplitude = 0.0;
  EXPECT_THROW(calibrate_strip(poisson(on_the_strip(s), 4), Mask(), knowledge(s), calibrant("AgBeh")), DataError);
  expect_refusal<InputError>([&] { calibrate_strip(Image::Zero(20, 20), Mask(), knowledge(s), calibrant("AgBeh")); },
                             "20 rows and 20 columns", "one row or one column");
}

// Closed form: a pixel of a strip at height 0 has the solid angle p_x p_y L / r^3, with its own height.
TEST(CalibrateStrip, APixelMapOfOneRowCountsTheStripsHeight) {
  const RingScenery s = strip(640.3);
  const PixelMap map = pixel_map(s.truth, 1, 1280);
  const double dx = (1000.0 - 640.3) * 0.05, r = std::hypot(dx, 150.0);
  EXPECT_NEAR(map.solid_angle_sr()(0, 1000), 0.05 * 8.0 * 150.0 / (r * r * r), 1e-15);
}

}  // namespace
}  // namespace sievelight
