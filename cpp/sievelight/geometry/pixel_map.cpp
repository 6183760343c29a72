// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/pixel_map.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

PixelMap pixel_map(const DetectorGeometry& g, Eigen::Index rows, Eigen::Index columns) {
  check(g);
  if (rows < 1 || columns < 1)
    throw InputError(fmt::format("pixel map: {} rows and {} columns asked for", rows, columns),
                     "Give the shape of the frame, rows first.");
  PixelMap map;
  for (Image* image : {&map.q_per_nm, &map.azimuth_rad, &map.cos_two_theta, &map.cos_incidence, &map.solid_angle_sr})
    image->resize(rows, columns);
  const Eigen::Matrix3d turn = rotation(g);
  const Eigen::Vector3d step_x = turn.col(0) * g.pixel_size_x_mm, step_y = turn.col(1) * g.pixel_size_y_mm;
  const double plane_mm = turn(2, 2) * g.distance_mm;  // distance from the sample to the plane, along its normal
  const double area_mm2 = g.pixel_size_x_mm * g.pixel_size_y_mm, four_pi_over_lambda = 4.0 * pi / g.wavelength_nm;
  parallel_for(static_cast<std::size_t>(rows), [&](std::size_t row) {
    const auto y = static_cast<Eigen::Index>(row);
    const Eigen::Vector3d row_start =
        step_y * (static_cast<double>(y) - g.beam_center_y_px) + Eigen::Vector3d(0.0, 0.0, g.distance_mm);
    for (Eigen::Index x = 0; x < columns; ++x) {
      const Eigen::Vector3d r = row_start + step_x * (static_cast<double>(x) - g.beam_center_x_px);
      const double across2 = r.x() * r.x() + r.y() * r.y(), length = std::sqrt(across2 + r.z() * r.z());
      // sin^2(theta) = (1 - cos 2theta)/2 would cancel near the beam. Both forms below are the same number; each adds
      // terms of one sign on its side of 90 degrees.
      const double sin2_theta =
          r.z() >= 0.0 ? across2 / (2.0 * length * (length + r.z())) : (length - r.z()) / (2.0 * length);
      map.q_per_nm(y, x) = four_pi_over_lambda * std::sqrt(sin2_theta);
      map.azimuth_rad(y, x) = std::atan2(r.y(), r.x());
      map.cos_two_theta(y, x) = r.z() / length;
      map.cos_incidence(y, x) = plane_mm / length;
      map.solid_angle_sr(y, x) = area_mm2 * plane_mm / (length * length * length);
    }
  });
  return map;
}

Image polarisation(const PixelMap& map, double horizontal_fraction, double plane_rad) {
  if (!(horizontal_fraction >= 0.0 && horizontal_fraction <= 1.0))
    throw InputError(
        fmt::format("polarisation: the horizontal fraction is {}; it must lie in [0, 1]", horizontal_fraction),
        "Give 0.5 for an unpolarised (laboratory) source, close to 1 for a synchrotron's horizontal beam.");
  const Image sin2 = 1.0 - map.cos_two_theta.square();
  const Image cos2_azimuth = (map.azimuth_rad - plane_rad).cos().square();
  return 1.0 - sin2 * (horizontal_fraction * cos2_azimuth + (1.0 - horizontal_fraction) * (1.0 - cos2_azimuth));
}

}  // namespace sievelight
