// SPDX-License-Identifier: GPL-3.0-or-later
/// Interference between hard spheres that keep out of each other's way: the Percus-Yevick structure factor.
/// 1/S = 1 + 24 phi G, G = integral_0^1 (alpha + beta x + gamma x^3) x^2 sin(A x)/(A x) dx, A = q times the diameter,
/// alpha = (1 + 2 phi)^2/(1 - phi)^4, beta = -6 phi (1 + phi/2)^2/(1 - phi)^4, gamma = phi alpha / 2. Below A = 2 its
/// power series replaces the closed form, which cancels as A^-6.
/// Sources: J. Percus, G. Yevick 1958, Phys. Rev. 110, 1; M. Wertheim 1963, Phys. Rev. Lett. 10, 321; N. Ashcroft,
/// J. Lekner 1966, Phys. Rev. 145, 83 (citations from memory; values checked in tests).
#pragma once

namespace sievelight {

/// How particles of a distribution see each other: each as if surrounded by its own kind (local monodisperse
/// approximation: J. Pedersen 1994, J. Appl. Cryst. 27, 595, from memory).
struct HardSpheres {
  double volume_fraction = 0.1;  // of the hard spheres
  double radius_factor = 1.0;    // hard-sphere radius over the particle's
};

/// InputError unless 0 <= volume fraction <= 0.5 (hard spheres freeze at 0.494) and the factor is positive.
void check(const HardSpheres& interaction);

/// S of hard spheres of one size; 1 without volume.
double hard_sphere_structure_factor(double q_times_diameter, double volume_fraction);

}  // namespace sievelight
