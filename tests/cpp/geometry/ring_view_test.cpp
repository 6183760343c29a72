// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_view.hpp"

#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

DetectorGeometry tilted() {
  return {.wavelength_nm = 0.1,
          .distance_mm = 150.0,
          .beam_center_x_px = 20.0,
          .beam_center_y_px = -40.0,
          .pixel_size_x_mm = 0.1,
          .pixel_size_y_mm = 0.15,
          .pitch_rad = 0.3,
          .yaw_rad = -0.2,
          .roll_rad = 0.4};
}

TEST(RingView, MeasuresTheRadiusOnAnUntiltedDetector) {
  DetectorGeometry g = tilted();
  g.pitch_rad = g.yaw_rad = g.roll_rad = 0.0;
  g.pixel_size_y_mm = 0.1;
  const RingView view(g);
  const double ring = std::atan(100.0 * 0.1 / 150.0);  // radius 100 px
  EXPECT_NEAR(view.radius_px(ring), 100.0, 1e-10);
  // First order in the offset: the second-order term is tan(2 theta) delta^2 p / L = 4e-5 px for 1 px here.
  EXPECT_NEAR(view.at(20.0 + 101.0, -40.0).offset_px(ring), 1.0, 1e-4);
  EXPECT_NEAR(view.at(20.0, -40.0 + 99.0).offset_px(ring), -1.0, 1e-4);
  const RingSight sight = view.at(20.0 + 60.0, -40.0 + 80.0);
  EXPECT_NEAR(sight.step_x, 0.6, 1e-12);
  EXPECT_NEAR(sight.step_y, 0.8, 1e-12);
}

TEST(RingView, AgreesWithTheDetectorAndItsSlopes) {
  const DetectorGeometry g = tilted();
  const RingView view(g);
  for (const auto& [x, y] : {std::pair{0.0, 0.0}, {150.0, 30.0}, {400.0, 300.0}}) {
    const RingSight sight = view.at(x, y);
    EXPECT_NEAR(sight.two_theta_rad, two_theta_rad(g, x, y), 1e-14);
    EXPECT_NEAR(std::tan(sight.two_theta_rad), view.tan_two_theta(x, y), 1e-14);
    // Central differences of two_theta_rad, per mm in the plane; their own error is of the order of 1e-9 relative.
    const double h = 1e-3;
    const double dx = (two_theta_rad(g, x + h, y) - two_theta_rad(g, x - h, y)) / (2 * h * g.pixel_size_x_mm),
                 dy = (two_theta_rad(g, x, y + h) - two_theta_rad(g, x, y - h)) / (2 * h * g.pixel_size_y_mm);
    EXPECT_NEAR(sight.rad_per_px, std::hypot(dx, dy) * view.pixel_mm(), 1e-6 * sight.rad_per_px);
    EXPECT_NEAR(sight.step_x * g.pixel_size_x_mm / view.pixel_mm(), dx / std::hypot(dx, dy), 1e-6);
  }
}

TEST(RingView, StepsOntoARingOfATiltedDetector) {
  const RingView view(tilted());
  const double ring = view.at(200.0, 100.0).two_theta_rad;
  const RingSight from = view.at(203.0, 101.0);
  const double move = -from.offset_px(ring);
  const RingSight there = view.at(203.0 + move * from.step_x, 101.0 + move * from.step_y);
  EXPECT_NEAR(there.offset_px(ring), 0.0, 0.01);  // second order: move^2/(2 radius), about 3 px over 260 px
}

}  // namespace
}  // namespace sievelight
