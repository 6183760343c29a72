// SPDX-License-Identifier: GPL-3.0-or-later
/// Closed forms for flat plates: sample, film, cell walls, air, sensor.
/// A plate's normal lies in the beam, or the plate is turned about the vertical axis. The angle-dependent parts depend
/// on one number, the excess s of the oblique path over the straight one (relative): s = 1/cos 2theta - 1 for a plate
/// across the beam.
/// Source: depth integrals, derived; B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201 lists the corrections.
#pragma once

namespace sievelight {

/// Excess of the way out over the way straight on, relative, of a plate whose normal is turned by `rotation_rad` about
/// the vertical (y) axis, normal = (sin b, 0, cos b): s = cos b / (sin b sin 2theta cos chi + cos b cos 2theta) - 1.
/// InputError where the scattered ray does not leave through the far side.
double path_excess(double cos_two_theta, double azimuth_rad, double rotation_rad = 0.0);

/// Self-absorption of a scattering plate relative to the straight path:
/// C = [1 - exp(-w)] / w, w = -s ln T. 1 at T = 1 or s = 0. T is that of the straight path.
double plate_self_absorption(double transmission, double excess);

/// Where the scattering that the background shows arises, seen from the sample.
enum class WallPosition { ignore, upstream, downstream, both };

/// What the oblique way through the sample leaves of the walls' scattering, relative to the straight way: upstream
/// T^s, downstream 1, both walls half of each.
double oblique_wall(double transmission, double excess, WallPosition walls);
/// What the walls behind the sample leave of the sample's own scattering, relative to the straight way: T_exit^s, with
/// T_exit the walls' transmission when they stand downstream, its square root when they are two equal ones.
double exit_wall(double walls_transmission, double excess, WallPosition walls);

/// Transmission exp(-mu t / cos 2theta) of a path that ends on a plane across the beam (air, window).
double oblique_transmission(double mu_per_cm, double length_mm, double cos_two_theta);
/// Share absorbed in a sensor: 1 - exp(-mu t / cos alpha).
double sensor_efficiency(double mu_per_cm, double thickness_mm, double cos_incidence);

/// cos_of_q() of forward scattering; InputError for any other q and for a wavelength that is not positive.
double cos_two_theta(double q_per_nm, double wavelength_nm);

}  // namespace sievelight
