// SPDX-License-Identifier: GPL-3.0-or-later
/// Calibrants: materials whose powder rings are known, with the standard uncertainty of their spacing.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

/// A calibrant: spacings d (nm), falling, with the standard uncertainty relative to d and where they come from.
/// relative_u is common to all its rings: however many rings are measured, q keeps it.
struct Calibrant {
  std::string name;
  Eigen::VectorXd d_nm;                  // (n) falling
  std::vector<std::string> reflections;  // (n) Miller indices, "001" or "10 4"; empty for a list of the user's own
  double relative_u = 0.0;
  std::string source;
};

/// One of the known calibrants; case, blanks, hyphens and underscores do not matter, chemical formulas and common
/// short names are accepted. InputError lists the known ones.
///
/// - silver behenate: orders 1-13 of d001 = 5.8380(3) nm, Huang, Toraya, Blanton, Wu 1993, J. Appl. Cryst. 26, 180.
///   relative_u 5e-4: laboratories without an internal standard spread by +-1e-3 (Blanton et al. 1995, Powder Diffr.
///   10, 91), ten times the 5e-5 of the paper.
/// - lanthanum hexaboride: a = 0.4156826(80) nm expanded, k = 2 (SRM 660c, certificate), primitive cubic.
/// - silicon: a = 0.5431144(8) nm (SRM 640f, Black et al. 2020, Powder Diffr. 35, 156), diamond cubic; the bracket is
///   taken as k = 1, which can only be too careful.
/// - corundum: a = 0.475893(10), c = 1.29917(7) nm (Int. Tables Cryst. C, 2006, Table 5.2.11.1), R-3c.
/// The last three are at 22.5 degrees C or room temperature and meant for wide angles.
Calibrant calibrant(const std::string& name);

/// A calibrant of the user's own. InputError unless the spacings are positive, finite and falling and 0 <= relative_u
/// < 0.1.
Calibrant calibrant(const std::string& name, const Eigen::VectorXd& d_nm, double relative_u);

/// Scattering angles of the rings, rising, up to 80 degrees and, unless 0, to max_order; Bragg's law. InputError when
/// there is none.
Eigen::VectorXd ring_two_theta_rad(const Eigen::VectorXd& d_nm, double wavelength_nm, int max_order = 0);

/// Names of the known calibrants.
std::vector<std::string> known_calibrants();

}  // namespace sievelight
