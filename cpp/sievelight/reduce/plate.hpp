// SPDX-License-Identifier: GPL-3.0-or-later
/// Closed forms for flat plates that the beam crosses at right angles: sample, cell walls, air, sensor.
/// Angle-dependent parts only; `cos_two_theta` and `cos_incidence` lie in (0, 1].
/// Source: depth integrals, derived; B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201 lists the corrections.
#pragma once

namespace sievelight {

/// Self-absorption of a scattering plate relative to the straight path:
/// C = [1 - exp(-w)] / w, w = -ln T (1/cos 2theta - 1). 1 at T = 1 or 2theta = 0.
double plate_self_absorption(double transmission, double cos_two_theta);
/// d ln C / d ln T.
double plate_self_absorption_slope(double transmission, double cos_two_theta);

/// Where the scattering that the background shows arises, seen from the sample.
enum class WallPosition { ignore, upstream, downstream, both };

/// What the oblique way through the sample leaves of the walls' scattering, relative to the straight way: upstream
/// T^(1/cos 2theta - 1), downstream 1, both walls half of each.
double oblique_wall(double transmission, double cos_two_theta, WallPosition walls);
/// d o / d ln T.
double oblique_wall_slope(double transmission, double cos_two_theta, WallPosition walls);

/// Transmission exp(-mu t / cos 2theta) of a path that ends on a plane across the beam (air, window).
double oblique_transmission(double mu_per_cm, double length_mm, double cos_two_theta);
/// Share absorbed in a sensor: 1 - exp(-mu t / cos alpha).
double sensor_efficiency(double mu_per_cm, double thickness_mm, double cos_incidence);

/// cos 2theta of elastic scattering: 1 - 2 sin^2 theta, sin theta = q lambda / (4 pi).
double cos_two_theta(double q_per_nm, double wavelength_nm);

}  // namespace sievelight
