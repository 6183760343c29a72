// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/components.hpp"

#include "geometry/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

RingCalibration calibration() {
  RingCalibration c;
  c.geometry = {.wavelength_nm = 0.154187,
                .distance_mm = 600.0,
                .beam_center_x_px = 251.1,
                .beam_center_y_px = 298.4,
                .pixel_size_x_mm = 0.1,
                .pixel_size_y_mm = 0.1};
  c.parameters = {"distance_mm", "beam_center_x_px", "beam_center_y_px", "pitch_rad", "yaw_rad"};
  Eigen::MatrixXd root(5, 5);  // any will do: its square is positive definite
  root << 0.05, 0, 0, 0, 0, 0.01, 0.02, 0, 0, 0, -0.005, 0.004, 0.03, 0, 0, 1e-4, 2e-4, 0, 3e-4, 0, 0, -1e-4, 2e-4,
      1e-4, 4e-4;
  c.covariance = root * root.transpose();
  c.x_px = Eigen::Vector2d(251.1 + 158.0, 251.1);
  c.y_px = Eigen::Vector2d(298.4, 298.4 - 158.0);
  c.calibrant_relative_u = 5e-4;
  return c;
}

Eigen::VectorXd shift(const GeometryComponent& component, const DetectorGeometry& g) {
  const DetectorGeometry& s = component.shifted_plus;
  Eigen::VectorXd d(5);
  d << s.distance_mm - g.distance_mm, s.beam_center_x_px - g.beam_center_x_px, s.beam_center_y_px - g.beam_center_y_px,
      s.pitch_rad - g.pitch_rad, s.yaw_rad - g.yaw_rad;
  return d;
}

TEST(GeometryComponents, AddUpToTheCovariance) {
  const RingCalibration c = calibration();
  const auto components = geometry_components(c, 0.0);
  ASSERT_EQ(components.size(), 5u);
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(5, 5);
  for (std::size_t k = 0; k < components.size(); ++k) {
    EXPECT_EQ(components[k].id, "geometry " + std::to_string(k + 1));
    const Eigen::VectorXd d = shift(components[k], c.geometry);
    sum += d * d.transpose();
  }
  // 600 mm + 0.05 mm keeps 1e-12 of the shift.
  for (int i = 0; i < 5; ++i)
    for (int j = 0; j < 5; ++j)
      EXPECT_NEAR(sum(i, j), c.covariance(i, j), 1e-9 * std::sqrt(c.covariance(i, i) * c.covariance(j, j)));
}

TEST(GeometryComponents, LeaveOutWhatWasNotRefined) {
  RingCalibration c = calibration();
  c.parameters.resize(3);
  c.covariance = c.covariance.topLeftCorner(3, 3).eval();
  for (const auto& component : geometry_components(c, 0.0)) EXPECT_EQ(component.shifted_plus.yaw_rad, 0.0);
  EXPECT_EQ(geometry_components(c, 0.0).size(), 3u);
}

TEST(GeometryComponents, TreatTheCalibrantsSpacingAsACauseOfItsOwn) {
  const RingCalibration c = calibration();
  const auto components = geometry_components(c);
  ASSERT_EQ(components.size(), 6u);
  EXPECT_EQ(components.back().id, "calibrant spacing");
  // d longer by 5e-4: every q smaller by 5e-4. First order at small angles: (2 theta)^2 of it, 1e-3 here, is left out.
  const double before = q_per_nm(c.geometry, 409.0, 298.4),
               after = q_per_nm(components.back().shifted_plus, 409.0, 298.4);
  EXPECT_NEAR(after / before - 1.0, -5e-4, 5e-4 * 3e-3);
}

TEST(GeometryComponents, RefuseWhatIsNoCalibration) {
  RingCalibration c = calibration();
  c.covariance.resize(2, 2);
  expect_refusal<InputError>([&] { geometry_components(c); }, "5 parameters with a covariance of 2 by 2",
                             "calibrate_rings");
  expect_refusal<InputError>([&] { geometry_components(calibration(), -0.1); }, "-0.1", "0.0005");
}

}  // namespace
}  // namespace sievelight
