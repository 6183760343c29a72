// SPDX-License-Identifier: GPL-3.0-or-later
/// Spheroids of one axis ratio in random orientation.
/// P = integral_0^1 F(q r(u))^2 du with r = a sqrt(1 + (nu^2 - 1) u^2), F of sphere.hpp, a the equatorial radius, nu a
/// the polar one. u = sinh(t)/sqrt(nu^2 - 1) or sin(t)/sqrt(1 - nu^2) makes r = a cosh t or a cos t and the integrand
/// smooth at every ratio. The size is the diameter of the sphere of equal volume: a = D/2 nu^(-1/3).
/// Source: A. Guinier, G. Fournet 1955, Small-Angle Scattering of X-rays, ch. 2 (from memory).
#pragma once

#include "sievelight/distribution/shape.hpp"

namespace sievelight {

/// Orientation-averaged, 1 at q = 0.
double spheroid_form_factor(double q_per_nm, double equatorial_radius_nm, double axis_ratio);

/// Surface of a spheroid over that of the sphere of equal volume, 1 or more.
double spheroid_surface_ratio(double axis_ratio);

/// @param axis_ratio polar over equatorial radius: above 1 elongated, below 1 flattened. InputError unless within 0.01
/// to 100 (beyond that take a cylinder or a lamella).
Shape spheroid(double axis_ratio);

}  // namespace sievelight
