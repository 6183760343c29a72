// SPDX-License-Identifier: GPL-3.0-or-later
/// Where the detector stands.
/// Pixel (x = column, y = row) from 0, centres at integers. x rises with the column, y with the row, z runs along the
/// beam from the sample. Orientation as the NXcanSAS definition names it: roll about z, pitch about x, yaw about y,
/// right-handed, applied about the beam point in the order R = R_z(roll) R_x(pitch) R_y(yaw).
/// Source of names and senses: NeXus application definition NXcanSAS, detector orientation; of the formulas:
/// derivation.
#pragma once

#include <Eigen/Core>

namespace sievelight {

struct DetectorGeometry {
  double wavelength_nm = 0.0;
  double distance_mm = 0.0;       // sample to the point where the beam meets the detector plane, along the beam
  double beam_center_x_px = 0.0;  // column of that point
  double beam_center_y_px = 0.0;  // row of that point
  double pixel_size_x_mm = 0.0;
  double pixel_size_y_mm = 0.0;
  double pitch_rad = 0.0;
  double yaw_rad = 0.0;
  double roll_rad = 0.0;
};

/// InputError naming the field unless every length is positive and finite and the tilts keep the detector before the
/// beam.
void check(const DetectorGeometry& geometry);

/// (3, 3) rotation matrix R_z(roll) R_x(pitch) R_y(yaw).
Eigen::Matrix3d rotation(const DetectorGeometry& geometry);

/// Position of the pixel (x, y) in mm, sample at the origin:
/// r = R ((x - x_c) p_x, (y - y_c) p_y, 0) + (0, 0, L).
Eigen::Vector3d position_mm(const DetectorGeometry& geometry, double x_px, double y_px);

/// Scattering angle between the ray to the pixel and the beam, radians in [0, pi).
double two_theta_rad(const DetectorGeometry& geometry, double x_px, double y_px);

/// q = (4 pi / lambda) sin(theta), in 1/nm.
double q_per_nm(const DetectorGeometry& geometry, double x_px, double y_px);

/// Cosine between the direct beam and the detector's normal: cos(pitch) cos(yaw).
double cos_at_beam(const DetectorGeometry& geometry);

}  // namespace sievelight
