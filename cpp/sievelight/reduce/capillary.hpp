// SPDX-License-Identifier: GPL-3.0-or-later
/// A capillary across the beam: a cylinder of liquid or powder seen through the beam's footprint.
/// The path through it varies over the footprint, so its nominal diameter is not its path. With p the footprint, L(x)
/// the chord, l_out the way out of a point (x, z) in the scattered direction:
///   T = int p exp(-mu L),  path = int p L exp(-mu L) / T,
///   C = int p dz exp(-mu (z_in + l_out)) / int p L exp(-mu L)   (1 straight on).
/// The walls' scattering crosses the contents obliquely: o, half from each side.
/// Source: absorption integral over the illuminated cylinder, derived; the fully bathed cylinder is that of
/// International Tables for Crystallography C, 6.3.3 (closed form at 2theta = 0 in the tests).
#pragma once

#include <Eigen/Core>

namespace sievelight {

enum class CapillaryAxis { vertical, horizontal };

struct CapillaryShape {
  double inner_diameter_mm = 0.0;
  double beam_width_mm = 0.0;   // full width of the beam across the capillary, evenly lit; 0 = a pencil
  double beam_offset_mm = 0.0;  // of the beam's middle from the axis
  CapillaryAxis axis = CapillaryAxis::vertical;
};

class Capillary {
 public:
  /// `transmission` of the contents alone over this footprint. InputError for an impossible shape, a beam that misses
  /// the capillary, or a transmission that the light beside the capillary forbids.
  Capillary(const CapillaryShape& shape, double transmission);

  double mu_per_mm() const { return mu_; }
  double path_mm() const { return path_; }
  /// C and o in one direction (cos 2theta in (0, 1], azimuth from +x towards +y).
  double self_absorption(double cos_two_theta, double azimuth_rad) const;
  double oblique_wall(double cos_two_theta, double azimuth_rad) const;

 private:
  double way_out(double x, double z, double cos_two_theta, double azimuth_rad) const;

  CapillaryShape shape_;
  double radius_ = 0.0, mu_ = 0.0, path_ = 0.0, straight_ = 0.0, transmitted_ = 0.0;
  Eigen::VectorXd x_, weight_, chord_;  // nodes across the footprint
};

}  // namespace sievelight
