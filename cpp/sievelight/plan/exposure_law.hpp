// SPDX-License-Identifier: GPL-3.0-or-later
/// How the uncertainty of a summary falls with exposure: u^2 = (a t^-b)^2 + floor^2.
/// b = 1/2 where a fixed model is fitted. A free-form distribution resolves more as counts grow, and the quantity asked
/// for with it: x50 improved as t^-0.41 in simulation. So a and b come from inversions at several exposures.
#pragma once

#include <Eigen/Core>
#include <optional>

namespace sievelight {

struct ExposureLaw {
  double a = 0.0;      // u of counting after one second
  double b = 0.5;      // power
  double floor = 0.0;  // what no exposure removes: errors that calibration brings
  double u(double exposure_s) const;
  /// The exposure that gives u; none where the floor is as large.
  std::optional<double> exposure_s(double u) const;
  /// Where the counting error has come down to half the floor: what follows pays little (total 12 % above the floor).
  /// None without a floor.
  std::optional<double> pays_until_s() const;
};

/// Least squares of ln u_counting over ln t; one exposure takes b = 1/2.
/// b is held between 0.1 and 0.7: what lies outside comes from too few simulations.
/// InputError for sizes that differ, no points, or numbers not above zero.
ExposureLaw fit_exposure_law(const Eigen::VectorXd& exposure_s, const Eigen::VectorXd& u_counting, double floor);

}  // namespace sievelight
