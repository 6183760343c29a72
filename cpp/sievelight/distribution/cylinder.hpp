// SPDX-License-Identifier: GPL-3.0-or-later
/// Cylinders in random orientation: long pores, and flat ones (slit pores, lamellae).
/// P = integral_0^1 sinc(q L u / 2)^2 [2 J1(x)/x]^2 du, x = q R sqrt(1 - u^2), u the cosine between axis and q.
/// Source: A. Guinier, G. Fournet 1955, Small-Angle Scattering of X-rays, ch. 2 (from memory).
/// Where the length is given and the size is the diameter (or the other way round), one of the two factors is the same
/// for all sizes at one q: its moments with the even Legendre polynomials are computed once, and each size then needs
/// only as many points as its own factor turns.
#pragma once

#include "sievelight/distribution/shape.hpp"

namespace sievelight {

/// Orientation-averaged, 1 at q = 0.
double cylinder_form_factor(double q_per_nm, double radius_nm, double length_nm);

/// Size: the diameter; length = length_ratio * diameter. InputError unless 0.02 <= ratio <= 20 (for longer pores give
/// the length, for flatter ones take a lamella).
Shape cylinder(double length_ratio);

/// Size: the diameter; every pore has the same length. InputError unless positive.
Shape cylinder_of_length(double length_nm);

/// Size: the thickness; the sheet is a disc of the given width (diameter), the same for every thickness. InputError
/// unless positive.
Shape lamella(double width_nm);

}  // namespace sievelight
