// SPDX-License-Identifier: GPL-3.0-or-later
/// What every pixel sees: q, azimuth, solid angle, polarisation.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/detector.hpp"

namespace sievelight {

struct PixelMap {
  Image q_per_nm;        // (rows, columns)
  Image azimuth_rad;     // atan2(r_y, r_x), from +x towards +y, in (-pi, pi]
  Image cos_two_theta;   // cosine of the scattering angle
  Image cos_incidence;   // cosine between the ray and the detector's normal
  Image solid_angle_sr;  // p_x p_y cos(alpha) / |r|^2
};

/// Maps of a detector of (rows, columns) pixels. InputError for an impossible geometry.
PixelMap pixel_map(const DetectorGeometry& geometry, Eigen::Index rows, Eigen::Index columns);

/// Polarisation factor for a share f in [0, 1] whose electric field lies in the plane at `plane_rad` (from +x towards
/// +y; 0 = horizontal), chi counted from that plane:
/// P = f (1 - sin^2 2theta cos^2 chi) + (1 - f)(1 - sin^2 2theta sin^2 chi).
/// Source: C. G. Darwin's polarisation factor; B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201, section on
/// polarisation. f = 0.5 gives (1 + cos^2 2theta)/2.
Image polarisation(const PixelMap& map, double fraction, double plane_rad = 0.0);
/// The same for n pixels, without a check of the fraction; and the check: InputError unless it lies in [0, 1].
void polarisation_of(const double* cos_two_theta, const double* azimuth_rad, Eigen::Index n, double fraction,
                     double plane_rad, double* out);
void require_polarisation(double fraction);

}  // namespace sievelight
