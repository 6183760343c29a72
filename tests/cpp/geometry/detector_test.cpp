// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/detector.hpp"

#include "geometry/refusal.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

DetectorGeometry laboratory() {
  return {.wavelength_nm = 0.154187,
          .distance_mm = 600.0,
          .beam_center_x_px = 251.1,
          .beam_center_y_px = 298.4,
          .pixel_size_x_mm = 0.1,
          .pixel_size_y_mm = 0.1};
}

// Source: Bragg's law with d001 = 5.8380 nm (Huang et al. 1993) and Cu K alpha 1, 0.1540593 nm: 2 theta of orders 1-5
// worked out in 30-digit arithmetic; the printed digits bound the tolerance.
TEST(Detector, PutsTheRingsOfSilverBehenateAtTheirAnglesAndQ) {
  const double two_theta_deg[] = {1.512025, 3.024314, 4.537130, 6.050737, 7.565402};
  const double q[] = {1.07625648, 2.15251295, 3.22876943, 4.30502590, 5.38128238};
  DetectorGeometry g = laboratory();
  g.wavelength_nm = 0.1540593;
  for (int n = 1; n <= 5; ++n) {
    // A pixel moved along x by L tan(2 theta) sees that angle.
    const double x = g.beam_center_x_px + g.distance_mm * std::tan(radians(two_theta_deg[n - 1])) / 0.1;
    EXPECT_NEAR(degrees(two_theta_rad(g, x, g.beam_center_y_px)), two_theta_deg[n - 1], 1e-9);
    EXPECT_NEAR(q_per_nm(g, x, g.beam_center_y_px), q[n - 1], 1e-6 * q[n - 1]);
  }
}

TEST(Detector, SeesNothingButTheBeamAtTheBeamPointHoweverItIsTilted) {
  DetectorGeometry g = laboratory();
  g.pitch_rad = 0.3;
  g.yaw_rad = -0.2;
  g.roll_rad = 1.0;
  EXPECT_EQ(q_per_nm(g, g.beam_center_x_px, g.beam_center_y_px), 0.0);
  EXPECT_EQ(position_mm(g, g.beam_center_x_px, g.beam_center_y_px), Eigen::Vector3d(0.0, 0.0, 600.0));
}

// The three elementary right-handed rotations written out by hand (Goldstein, Classical Mechanics, active sense), and
// their product in the order of the NXcanSAS names: roll after pitch after yaw.
TEST(Detector, TurnsByRollAfterPitchAfterYaw) {
  DetectorGeometry g = laboratory();
  g.pitch_rad = 0.11;
  g.yaw_rad = -0.23;
  g.roll_rad = 0.37;
  const double cp = std::cos(0.11), sp = std::sin(0.11), cy = std::cos(-0.23), sy = std::sin(-0.23),
               cr = std::cos(0.37), sr = std::sin(0.37);
  Eigen::Matrix3d about_x, about_y, about_z;
  about_x << 1, 0, 0, 0, cp, -sp, 0, sp, cp;
  about_y << cy, 0, sy, 0, 1, 0, -sy, 0, cy;
  about_z << cr, -sr, 0, sr, cr, 0, 0, 0, 1;
  EXPECT_TRUE(rotation(g).isApprox(about_z * about_x * about_y, 1e-14));
  EXPECT_FALSE(rotation(g).isApprox(about_z * about_y * about_x, 1e-3)) << "the angles cannot tell the order";
}

TEST(Detector, MovesTheRightEdgeTowardsTheSampleForAPositiveYaw) {
  DetectorGeometry g = laboratory();
  g.yaw_rad = radians(10.0);  // right-handed about +y turns +x towards -z
  EXPECT_LT(position_mm(g, 599.0, g.beam_center_y_px).z(), 600.0);
  g.yaw_rad = 0.0;
  g.pitch_rad = radians(10.0);  // right-handed about +x turns +y towards +z
  EXPECT_GT(position_mm(g, g.beam_center_x_px, 499.0).z(), 600.0);
}

TEST(Detector, RefusesAnImpossibleGeometryByTheNameOfTheField) {
  DetectorGeometry g = laboratory();
  EXPECT_NO_THROW(check(g));
  g.distance_mm = -3.0;
  expect_refusal<InputError>([&] { check(g); }, "distance_mm is -3", "in mm");
  g = laboratory();
  g.wavelength_nm = std::numeric_limits<double>::quiet_NaN();
  expect_refusal<InputError>([&] { check(g); }, "wavelength_nm is nan", "in nm");
  g = laboratory();
  g.beam_center_y_px = std::numeric_limits<double>::infinity();
  expect_refusal<InputError>([&] { check(g); }, "beam_center_y_px is inf", "row");
  g = laboratory();
  g.yaw_rad = radians(180.0);
  expect_refusal<InputError>([&] { check(g); }, "yaw 180 degrees", "flip");
}

}  // namespace
}  // namespace sievelight
