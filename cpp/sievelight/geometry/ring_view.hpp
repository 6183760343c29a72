// SPDX-License-Identifier: GPL-3.0-or-later
/// How far a pixel stands from a ring, in pixels along the radius, for any tilt.
#pragma once

#include "sievelight/geometry/detector.hpp"

#include <Eigen/Core>

namespace sievelight {

/// The scattering angle at a place of the detector and how it changes there.
struct RingSight {
  double two_theta_rad = 0.0;
  double azimuth_rad = 0.0;
  double rad_per_px = 0.0;            // steepest change of two theta, per (mean) pixel of the detector plane
  double step_x = 0.0, step_y = 0.0;  // the step, in columns and rows, that is one pixel long up that slope

  /// Signed distance (px) from the ring of that angle to the place, positive outside the ring; first order, so exact
  /// enough within a few pixels of the ring.
  double offset_px(double ring_two_theta_rad) const { return (two_theta_rad - ring_two_theta_rad) / rad_per_px; }
};

/// A geometry prepared for many places.
class RingView {
 public:
  explicit RingView(const DetectorGeometry& geometry);
  RingSight at(double x_px, double y_px) const;
  /// tan(2 theta) alone, cheap; negative behind the sample.
  double tan_two_theta(double x_px, double y_px) const;
  /// Side of a square pixel of the same area, mm: the "pixel" of every distance here.
  double pixel_mm() const { return pixel_mm_; }
  /// Radius (px) of a ring on an untilted detector at this distance.
  double radius_px(double two_theta_rad) const;

 private:
  DetectorGeometry geometry_;
  Eigen::Vector3d step_x_, step_y_;  // mm moved in space per column, per row
  double pixel_mm_;
};

}  // namespace sievelight
