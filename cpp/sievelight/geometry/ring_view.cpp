// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_view.hpp"

#include <cmath>

namespace sievelight {

RingView::RingView(const DetectorGeometry& g)
    : geometry_(g),
      step_x_(rotation(g).col(0) * g.pixel_size_x_mm),
      step_y_(rotation(g).col(1) * g.pixel_size_y_mm),
      pixel_mm_(std::sqrt(g.pixel_size_x_mm * g.pixel_size_y_mm)) {}

double RingView::radius_px(double two_theta_rad) const {
  return geometry_.distance_mm * std::tan(two_theta_rad) / pixel_mm_;
}

double RingView::tan_two_theta(double x_px, double y_px) const {
  const double dx = x_px - geometry_.beam_center_x_px, dy = y_px - geometry_.beam_center_y_px;
  const Eigen::Vector3d r = step_x_ * dx + step_y_ * dy;
  return std::sqrt(r.x() * r.x() + r.y() * r.y()) / (r.z() + geometry_.distance_mm);
}

RingSight RingView::at(double x_px, double y_px) const {
  const double dx = x_px - geometry_.beam_center_x_px, dy = y_px - geometry_.beam_center_y_px;
  const Eigen::Vector3d r = step_x_ * dx + step_y_ * dy;
  const double z = r.z() + geometry_.distance_mm, across = std::sqrt(r.x() * r.x() + r.y() * r.y());
  RingSight sight;
  sight.two_theta_rad = std::atan2(across, z);
  sight.azimuth_rad = std::atan2(r.y(), r.x());
  // two theta = atan2(across, z): its change per mm moved in the plane along x and along y.
  const double ux = across > 0.0 ? r.x() / across : 1.0, uy = across > 0.0 ? r.y() / across : 0.0;
  const double length2 = across * across + z * z;
  const auto slope = [&](const Eigen::Vector3d& step, double pixel) {
    return (z * (ux * step.x() + uy * step.y()) - across * step.z()) / (length2 * pixel);
  };
  const double slope_x = slope(step_x_, geometry_.pixel_size_x_mm), slope_y = slope(step_y_, geometry_.pixel_size_y_mm);
  const double steepest = std::hypot(slope_x, slope_y);
  sight.rad_per_px = steepest * pixel_mm_;
  sight.step_x = slope_x / steepest * pixel_mm_ / geometry_.pixel_size_x_mm;
  sight.step_y = slope_y / steepest * pixel_mm_ / geometry_.pixel_size_y_mm;
  return sight;
}

}  // namespace sievelight
