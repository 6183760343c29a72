// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/detector.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <cmath>

namespace sievelight {

void check(const DetectorGeometry& g) {
  const auto positive = [](const char* name, double value, const char* mend) {
    if (!(std::isfinite(value) && value > 0.0))
      throw InputError(fmt::format("geometry: {} is {}; it must be a positive length", name, value), mend);
  };
  positive("wavelength_nm", g.wavelength_nm, "Give the wavelength in nm (0.154 for copper K alpha radiation).");
  positive("distance_mm", g.distance_mm, "Give the distance from the sample to the detector in mm.");
  positive("pixel_size_x_mm", g.pixel_size_x_mm, "Give the width of a pixel in mm.");
  positive("pixel_size_y_mm", g.pixel_size_y_mm, "Give the height of a pixel in mm.");
  const auto finite = [](const char* name, double value, const char* mend) {
    if (!std::isfinite(value))
      throw InputError(fmt::format("geometry: {} is {}; it must be a finite number", name, value), mend);
  };
  finite("beam_center_x_px", g.beam_center_x_px, "Give the column where the beam meets the detector plane.");
  finite("beam_center_y_px", g.beam_center_y_px, "Give the row where the beam meets the detector plane.");
  finite("pitch", g.pitch_rad, "Give the rotation about x.");
  finite("yaw", g.yaw_rad, "Give the rotation about y.");
  finite("roll", g.roll_rad, "Give the rotation about the beam.");
  // The detector's normal has the component cos(pitch) cos(yaw) along the beam: at 0 the beam runs in the plane.
  if (const double along = std::cos(g.pitch_rad) * std::cos(g.yaw_rad); along < 0.01)
    throw InputError(fmt::format("geometry: pitch {:.6g} degrees and yaw {:.6g} degrees turn the detector's face away "
                                 "from the beam (cosine {:.3g})",
                                 degrees(g.pitch_rad), degrees(g.yaw_rad), along),
                     "Give both well inside -90 to 90 degrees; a flipped image is a flip, not a rotation.");
}

Eigen::Matrix3d rotation(const DetectorGeometry& g) {
  using Eigen::AngleAxisd, Eigen::Vector3d;
  return (AngleAxisd(g.roll_rad, Vector3d::UnitZ()) * AngleAxisd(g.pitch_rad, Vector3d::UnitX()) *
          AngleAxisd(g.yaw_rad, Vector3d::UnitY()))
      .toRotationMatrix();
}

Eigen::Vector3d position_mm(const DetectorGeometry& g, double x_px, double y_px) {
  const Eigen::Vector3d in_plane((x_px - g.beam_center_x_px) * g.pixel_size_x_mm,
                                 (y_px - g.beam_center_y_px) * g.pixel_size_y_mm, 0.0);
  return rotation(g) * in_plane + Eigen::Vector3d(0.0, 0.0, g.distance_mm);
}

double two_theta_rad(const DetectorGeometry& g, double x_px, double y_px) {
  const Eigen::Vector3d r = position_mm(g, x_px, y_px);
  return std::atan2(r.head<2>().norm(), r.z());
}

double q_per_nm(const DetectorGeometry& g, double x_px, double y_px) {
  return 4.0 * pi / g.wavelength_nm * std::sin(0.5 * two_theta_rad(g, x_px, y_px));
}

double cos_at_beam(const DetectorGeometry& g) { return std::cos(g.pitch_rad) * std::cos(g.yaw_rad); }

}  // namespace sievelight
