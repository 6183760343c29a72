// SPDX-License-Identifier: GPL-3.0-or-later
/// Core-shell spheres: a pore with a lining.
/// Amplitude over (core contrast x outer volume): (1 - s) (Rc/Ro)^3 F(q Rc) + s F(q Ro), with F of sphere.hpp and s the
/// contrast of the shell over that of the core, both against the matrix. The contrast given to the inversion is the
/// core's. The size is the outer diameter and volume fractions are of core and shell together; the surface is the outer
/// one. s = 1 is a sphere of the outer diameter, s = 0 one of the core's.
/// Source: A. Guinier, G. Fournet 1955, Small-Angle Scattering of X-rays, ch. 2 (from memory): amplitudes of concentric
/// spheres add.
#pragma once

#include "sievelight/distribution/shape.hpp"

namespace sievelight {

/// @param shell_ratio thickness of the shell over the outer radius. InputError unless 0 < ratio < 1 and s is finite.
Shape core_shell_sphere(double shell_ratio, double shell_contrast_ratio);

/// A shell of the same thickness on every size; spheres no larger than twice the thickness are all shell. InputError
/// unless the thickness is positive and s is finite.
Shape core_shell_sphere_of_thickness(double shell_nm, double shell_contrast_ratio);

}  // namespace sievelight
