// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/sample_plane.hpp"

#include "geometry/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

RingCalibration at(double distance_mm, double u_mm) {
  RingCalibration c;
  c.geometry = {.wavelength_nm = 0.154187,
                .distance_mm = distance_mm,
                .beam_center_x_px = 120.0,
                .beam_center_y_px = 80.0,
                .pixel_size_x_mm = 0.2,
                .pixel_size_y_mm = 0.2};
  c.parameters = {"distance_mm", "beam_center_x_px", "beam_center_y_px"};
  c.covariance = Eigen::Vector3d(u_mm * u_mm, 1e-4, 1e-4).asDiagonal();
  c.calibrant = "silver behenate";
  c.calibrant_relative_u = 5e-4;
  return c;
}

// Closed form: in small-angle scattering q goes as 1/L; 2 mm nearer of 400 mm raises q by 2/398.
TEST(SamplePlane, AnOffsetTowardsTheDetectorShortensTheDistance) {
  const DetectorGeometry g = at(400.0, 0.1).geometry, nearer = with_sample_offset(g, 2.0);
  EXPECT_EQ(nearer.distance_mm, 398.0);
  EXPECT_EQ(nearer.beam_center_x_px, g.beam_center_x_px);
  EXPECT_NEAR(q_per_nm(nearer, 140.0, 80.0) / q_per_nm(g, 140.0, 80.0), 400.0 / 398.0, 1e-5);
  expect_refusal<InputError>([&] { with_sample_offset(g, 400.0); }, "offset of 400 mm", "smaller than the distance");
}

TEST(SamplePlane, OffsetsCarryTheReferenceInCommonAndTheSpacingByTheirShare) {
  const SamplePlaneOffsets o = sample_plane_offsets({at(400.0, 0.03), at(398.0, 0.04), at(410.0, 0.05)}, 0);
  EXPECT_DOUBLE_EQ(o.offset_mm[0], 0.0);
  EXPECT_DOUBLE_EQ(o.offset_mm[1], 2.0);
  EXPECT_DOUBLE_EQ(o.offset_mm[2], -10.0);
  EXPECT_EQ(o.u_mm(0), 0.0);
  EXPECT_NEAR(o.u_mm(1), std::sqrt(0.03 * 0.03 + 0.04 * 0.04 + 1e-3 * 1e-3), 1e-12);  // not 5e-4 of 400 mm
  EXPECT_NEAR(o.covariance(1, 2), 0.03 * 0.03 - 25e-8 * 20.0, 1e-12);
}

TEST(SamplePlane, ComponentsKeepTheirIdsFromPositionToPosition) {
  const RingCalibration c = at(400.0, 0.03);
  const auto here = geometry_components(c), there = geometry_components(c, 2.0, 0.05, "3");
  ASSERT_EQ(there.size(), here.size() + 1);
  for (std::size_t i = 0; i < here.size(); ++i) {
    EXPECT_EQ(there[i].id, here[i].id);
    EXPECT_NEAR(there[i].shifted_plus.distance_mm, here[i].shifted_plus.distance_mm - 2.0, 1e-12);
  }
  EXPECT_EQ(there.back().id, "sample plane 3");
  EXPECT_NEAR(there.back().shifted_plus.distance_mm, 397.95, 1e-12);
}

TEST(SamplePlane, RefusesWhatDoesNotBelongTogether) {
  expect_refusal<InputError>([] { sample_plane_offsets({at(400.0, 0.03)}); }, "1 calibrations", "two positions");
  RingCalibration other = at(398.0, 0.04);
  other.calibrant = "silicon";
  expect_refusal<InputError>([&] { sample_plane_offsets({at(400.0, 0.03), other}); }, "'silicon'", "one calibrant");
  expect_refusal<InputError>([] { geometry_components(at(400.0, 0.03), 1.0, -1.0, "2"); }, "position '2'", "mm");
}

}  // namespace
}  // namespace sievelight
