// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/pixel_map.hpp"

#include "geometry/refusal.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

DetectorGeometry flat(double distance_mm, double pixel_mm, double center_px) {
  return {.wavelength_nm = 0.154187,
          .distance_mm = distance_mm,
          .beam_center_x_px = center_px,
          .beam_center_y_px = center_px,
          .pixel_size_x_mm = pixel_mm,
          .pixel_size_y_mm = pixel_mm};
}

/// Solid angle of the rectangle between the foot of the normal and the corner (a, b), at distance h from the plane:
/// atan(a b / (h sqrt(h^2 + a^2 + b^2))), odd in a and b. Source: derivation; it is the quarter of the closed form for
/// a rectangle on the axis (A. Khadjavi, J. Opt. Soc. Am. 58 (1968) 1417, from memory).
double corner_sr(double a, double b, double h) { return std::atan(a * b / (h * std::sqrt(h * h + a * a + b * b))); }

double rectangle_sr(double a0, double a1, double b0, double b1, double h) {
  return corner_sr(a1, b1, h) - corner_sr(a0, b1, h) - corner_sr(a1, b0, h) + corner_sr(a0, b0, h);
}

// Closed form of a flat detector normal to the beam (B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201): the
// solid angle falls as cos^3 of the scattering angle. Radius, distance, angle and cos^3 worked out in 30 digits.
TEST(PixelMap, LosesSolidAngleAsTheCubeOfTheCosine) {
  struct Row {
    double radius_mm, distance_mm, two_theta_deg, cos3;
  };
  for (const Row& row : {Row{50, 500, 5.710593, 0.985185337}, Row{100, 500, 11.309932, 0.942866034},
                         Row{85, 300, 15.819194, 0.890629009}}) {
    const PixelMap map = pixel_map(flat(row.distance_mm, 1.0, 0.0), 1, 101);
    const auto x = static_cast<Eigen::Index>(row.radius_mm);
    EXPECT_NEAR(degrees(std::acos(map.cos_two_theta()(0, x))), row.two_theta_deg, 5e-7);
    EXPECT_NEAR(map.solid_angle_sr()(0, x) / map.solid_angle_sr()(0, 0), row.cos3, 5e-10);
    EXPECT_NEAR(map.solid_angle_sr()(0, 0), 1.0 / (row.distance_mm * row.distance_mm), 1e-18);
    EXPECT_DOUBLE_EQ(map.cos_incidence(0, x), map.cos_two_theta()(0, x));
  }
}

// Closed form above. The midpoint rule over a pixel errs by less than (p/L)^2 / 4 = 3e-7 relative, pixel by pixel.
TEST(PixelMap, CoversTheSolidAngleOfTheWholeRectangle) {
  const DetectorGeometry g{.wavelength_nm = 0.1,
                           .distance_mm = 100.0,
                           .beam_center_x_px = 300.0,
                           .beam_center_y_px = 900.0,  // outside the frame
                           .pixel_size_x_mm = 0.1,
                           .pixel_size_y_mm = 0.12};
  const PixelMap map = pixel_map(g, 700, 1000);
  const double exact =
      rectangle_sr((-0.5 - 300.0) * 0.1, (999.5 - 300.0) * 0.1, (-0.5 - 900.0) * 0.12, (699.5 - 900.0) * 0.12, 100.0);
  EXPECT_NEAR(map.solid_angle_sr().sum(), exact, 3e-7 * exact);
  EXPECT_DOUBLE_EQ(map.largest_solid_angle_sr, map.solid_angle_sr().maxCoeff());
}

// The same closed form, from the foot of the sample's normal on the tilted plane: that foot lies at
// -R^T (0, 0, L) in the plane's own axes, and the plane stands L n_z away.
TEST(PixelMap, CoversTheSolidAngleOfATiltedRectangle) {
  DetectorGeometry g = flat(100.0, 0.1, 300.0);
  g.pitch_rad = radians(-20.0);
  g.yaw_rad = radians(30.0);
  g.roll_rad = radians(15.0);
  const PixelMap map = pixel_map(g, 500, 800);
  const double cp = std::cos(g.pitch_rad), sp = std::sin(g.pitch_rad), cy = std::cos(g.yaw_rad),
               sy = std::sin(g.yaw_rad);
  // Third row of R_z R_x R_y, by hand: (-cos p sin y, sin p, cos p cos y); roll drops out.
  const double foot_x = 100.0 * cp * sy, foot_y = -100.0 * sp, h = 100.0 * cp * cy;
  const double exact = rectangle_sr((-0.5 - 300.0) * 0.1 - foot_x, (799.5 - 300.0) * 0.1 - foot_x,
                                    (-0.5 - 300.0) * 0.1 - foot_y, (499.5 - 300.0) * 0.1 - foot_y, h);
  EXPECT_NEAR(map.solid_angle_sr().sum(), exact, 5e-7 * exact);
  EXPECT_DOUBLE_EQ(map.largest_solid_angle_sr, map.solid_angle_sr().maxCoeff());
}

TEST(PixelMap, AgreesPixelByPixelWithTheDetector) {
  DetectorGeometry g = flat(250.0, 0.172, 40.0);
  g.pitch_rad = 0.2;
  g.yaw_rad = -0.1;
  g.roll_rad = 0.5;
  const PixelMap map = pixel_map(g, 70, 90);
  for (const auto& [y, x] : {std::pair{0, 0}, {69, 89}, {40, 41}, {13, 77}}) {
    const Eigen::Vector3d r = position_mm(g, x, y), normal = rotation(g).col(2);
    EXPECT_NEAR(map.q_per_nm(y, x), q_per_nm(g, x, y), 1e-12 * q_per_nm(g, x, y));
    EXPECT_NEAR(map.azimuth_rad(y, x), std::atan2(r.y(), r.x()), 1e-12);
    EXPECT_NEAR(map.cos_incidence(y, x), r.dot(normal) / r.norm(), 1e-14);
    EXPECT_NEAR(map.cos_two_theta()(y, x), r.z() / r.norm(), 1e-14);
  }
}

TEST(PixelMap, KeepsItsDigitsNextToTheBeam) {
  DetectorGeometry g = flat(1e7, 0.001, 0.0);  // 2 theta = 1e-10: 1 - cos would be exactly zero
  EXPECT_NEAR(pixel_map(g, 1, 2).q_per_nm(0, 1), 2.0 * pi / 0.154187 * 1e-10, 1e-22);
}

TEST(PixelMap, CountsAzimuthFromColumnsTowardsRows) {
  const PixelMap map = pixel_map(flat(100.0, 0.1, 5.0), 11, 11);
  EXPECT_DOUBLE_EQ(map.azimuth_rad(5, 10), 0.0);
  EXPECT_DOUBLE_EQ(map.azimuth_rad(10, 5), pi / 2.0);
  EXPECT_DOUBLE_EQ(map.azimuth_rad(5, 0), pi);
  EXPECT_DOUBLE_EQ(map.azimuth_rad(0, 5), -pi / 2.0);
}

// Source: equation in Pauw 2013, section on polarisation; the values at tan 2 theta = 0.1 are its closed forms
// (1 + cos^2 2 theta)/2, cos^2 2 theta and 1 in 10 digits.
TEST(PixelMap, PolarisesAsTheClosedForms) {
  const PixelMap map = pixel_map(flat(100.0, 1.0, 10.0), 21, 21);
  EXPECT_NEAR(polarisation(map, 0.5)(10, 20), 0.995049505, 5e-10);
  EXPECT_NEAR(polarisation(map, 1.0)(10, 20), 0.990099010, 5e-10);
  EXPECT_NEAR(polarisation(map, 1.0)(20, 10), 1.0, 1e-15);
  EXPECT_NEAR(polarisation(map, 0.0)(20, 10), 0.990099010, 5e-10);
}

// Property: over a full turn every horizontal share has the mean of the unpolarised beam. Four pixels a quarter turn
// apart carry the mean exactly, since cos^2 chi + cos^2(chi + 90 degrees) = 1.
TEST(PixelMap, PolarisesToTheUnpolarisedMeanOverAzimuth) {
  const PixelMap map = pixel_map(flat(100.0, 1.0, 10.0), 21, 21);
  for (const double f : {0.0, 0.3, 0.99}) {
    const Image p = polarisation(map, f), mean = polarisation(map, 0.5);
    EXPECT_NEAR((p(13, 19) + p(19, 7) + p(7, 1) + p(1, 13)) / 4.0, mean(13, 19), 1e-14);
  }
}

TEST(PixelMap, RefusesAnEmptyFrameAndAnImpossibleShareOfPolarisation) {
  expect_refusal<InputError>([] { pixel_map(flat(100.0, 1.0, 0.0), 0, 5); }, "0 rows and 5 columns", "rows first");
  const PixelMap map = pixel_map(flat(100.0, 1.0, 0.0), 2, 2);
  expect_refusal<InputError>([&] { polarisation(map, 1.2); }, "horizontal fraction is 1.2", "0.5");
}

}  // namespace
}  // namespace sievelight
