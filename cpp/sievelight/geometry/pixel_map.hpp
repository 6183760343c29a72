// SPDX-License-Identifier: GPL-3.0-or-later
/// What every pixel sees: q, azimuth, solid angle, polarisation.
/// Three numbers a pixel are kept and the rest is worked out from them: memory is what a map costs.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/detector.hpp"

namespace sievelight {

struct PixelMap {
  Image q_per_nm;       // (rows, columns)
  Image azimuth_rad;    // atan2(r_y, r_x), from +x towards +y, in (-pi, pi]
  Image cos_incidence;  // cosine between the ray and the detector's normal
  Image place;          // (rows, columns) what pixels are binned by where that is not q; else empty
  double wavelength_nm = 0.0;
  double facing_sr = 0.0;               // p_x p_y / h^2, h = distance of the plane: a pixel at the foot of its normal
  double largest_solid_angle_sr = 0.0;  // of all pixels

  const Image& binned_by() const { return place.size() != 0 ? place : q_per_nm; }
  double solid_angle_sr(Eigen::Index pixel) const { return solid_angle_of(cos_incidence.data()[pixel], facing_sr); }
  Image solid_angle_sr() const;  // (rows, columns) p_x p_y cos(alpha) / |r|^2
  Image cos_two_theta() const;   // (rows, columns) cosine of the scattering angle

  /// p_x p_y cos(alpha) / |r|^2 with |r| = h / cos(alpha).
  static double solid_angle_of(double cos_incidence, double facing_sr) {
    return facing_sr * (cos_incidence * cos_incidence * cos_incidence);
  }
};

/// cos 2theta of elastic scattering: 1 - 2 sin^2 theta, sin theta = q lambda / (4 pi).
inline double cos_of_q(double q_per_nm, double wavelength_nm) {
  const double sine = q_per_nm * (wavelength_nm / (4.0 * pi));
  return 1.0 - 2.0 * (sine * sine);
}

/// Maps of a detector of (rows, columns) pixels. InputError for an impossible geometry.
PixelMap pixel_map(const DetectorGeometry& geometry, Eigen::Index rows, Eigen::Index columns);

/// Polarisation factor for a share f in [0, 1] whose electric field lies in the plane at `plane_rad` (from +x towards
/// +y; 0 = horizontal), chi counted from that plane:
/// P = f (1 - sin^2 2theta cos^2 chi) + (1 - f)(1 - sin^2 2theta sin^2 chi).
/// Source: C. G. Darwin's polarisation factor; B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201, section on
/// polarisation. f = 0.5 gives (1 + cos^2 2theta)/2.
Image polarisation(const PixelMap& map, double fraction, double plane_rad = 0.0);
/// The same for n pixels from `first` on, without a check of the fraction; and the check: InputError unless it lies in
/// [0, 1].
void polarisation_of(const PixelMap& map, Eigen::Index first, Eigen::Index n, double fraction, double plane_rad,
                     double* out);
void require_polarisation(double fraction);

}  // namespace sievelight
