// SPDX-License-Identifier: GPL-3.0-or-later
/// Scattering of a uniform sphere: the amplitude and its square, the form factor.
/// F(x) = 3 (sin x - x cos x) / x^3 with x = q R; P = F^2; both are 1 at x = 0.
/// Below x = 0.3 a power series replaces the formula, whose two terms cancel as 1/x^2 (P wrong by 1e-10 at x = 1e-3).
/// Source: Lord Rayleigh 1911, Proc. R. Soc. A 84, 25; A. Guinier, G. Fournet 1955, Small-Angle Scattering of X-rays
/// (citations from memory; values checked in tests).
#pragma once

namespace sievelight {

/// F(x), dimensionless, even in x.
double sphere_amplitude(double q_times_radius);
/// P(x) = F(x)^2.
double sphere_form_factor(double q_times_radius);
/// Volume of a sphere, nm^3.
double sphere_volume_nm3(double diameter_nm);

}  // namespace sievelight
