// SPDX-License-Identifier: GPL-3.0-or-later
/// A line-shaped beam: its profile along the line (length) and across it (width), and what it does to a curve.
///
/// J(q) = integral dw V(w) integral dl W(l) I(q'(q + w, l)) over both signs, each profile with the integral 1.
/// Positions are in the detector plane, folded with the height of the strip that counts: for a detector at the distance
/// L the element at (x + w, l) sees q' = (4 pi/lambda) sin(atan(hypot(x + w, l)/L)/2), where x belongs to q; without a
/// geometry they are in q and q' = hypot(q + w, l). An infinite slit has W = 1: J(q) = 2 integral_0^inf I(hypot(q, l))
/// dl, in 1/nm times the intensity's unit. Sources: O. Glatter, O. Kratky (eds.), Small Angle X-ray Scattering,
/// Academic Press 1982, ch. 4 (from memory); A. Guinier, G. Fournet, Small-Angle Scattering of X-rays, Wiley 1955, ch.
/// 4 (from memory).
#pragma once

#include "sievelight/curve/curve.hpp"

#include <Eigen/Core>
#include <functional>
#include <optional>

namespace sievelight {

/// Weight against position: straight between the knots, zero outside, integral 1.
struct LineWeight {
  Eigen::VectorXd position;  // (n) rising
  Eigen::VectorXd weight;    // (n)
};

/// Full weight out to half_top on both sides, falling to zero at half_base; a box where the two are equal. InputError
/// unless 0 <= half_top <= half_base and half_base > 0.
LineWeight trapezoid(double half_top, double half_base);
/// A measured profile, normalised. InputError unless positions rise and weights are finite, not negative and not all 0.
LineWeight measured_weight(const Eigen::VectorXd& position, const Eigen::VectorXd& weight);
/// A Gaussian's standard deviation from its full width at half maximum.
double sd_of_fwhm(double fwhm);
/// Second moment about position 0: what smears, whether or not the profile is centred on the beam.
double second_moment(const LineWeight& profile);

struct SlitGeometry {
  double distance_mm = 0.0;
  double wavelength_nm = 0.0;
};

struct SlitProfile {
  std::optional<LineWeight> length;      // none: no smearing along the line
  bool infinite = false;                 // W = 1 everywhere, instead of `length`
  std::optional<LineWeight> width;       // measured, or
  double width_sd = 0.0;                 // Gaussian
  std::optional<SlitGeometry> geometry;  // positions in mm; without it in 1/nm
};

/// InputError for an infinite slit with a length profile or a geometry, two widths, or a bad number.
void check(const SlitProfile& profile);

/// The curve with slit_length_per_nm and slit_width_per_nm of this profile (root of the second moments, at each q).
/// InputError for an infinite slit.
Curve with_slit(const Curve& curve, const SlitProfile& profile);

/// (n) J of a function I(q) at each q (1/nm), by adaptive quadrature to 1e-10: for closed forms and for checks. For
/// sampled curves take smearing_matrix(). NumericalError when the integral does not converge.
Eigen::VectorXd smear(const std::function<double(double)>& intensity, const Eigen::VectorXd& q_per_nm,
                      const SlitProfile& profile);

}  // namespace sievelight
