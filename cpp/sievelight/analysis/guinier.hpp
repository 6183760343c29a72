// SPDX-License-Identifier: GPL-3.0-or-later
/// Guinier's law: a radius of gyration from the lowest angles.
///   ln I(q) = ln I0 - q^2 Rg^2 / 3, for small q Rg and objects (or pores) that do not see each other.
/// Fitted as I0 exp(-q^2 Rg^2 / 3) with the intensity's own weights, which is the same line, but a noisy (even
/// negative) point does not bend it as its logarithm would. Rg weighs large objects most; it is no mean size.
/// Source: A. Guinier, G. Fournet, Small-Angle Scattering of X-rays, Wiley 1955 (from memory).
/// Start at fit_guinier(); choosing the window is in guinier_window.hpp.
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/guinier_window.hpp"
#include "sievelight/base/range.hpp"
#include "sievelight/curve/curve.hpp"

#include <string>
#include <vector>

namespace sievelight {

struct GuinierFit {
  CurveEstimate rg_nm;
  CurveEstimate i0;  // in the curve's unit
  IntensityUnit unit = IntensityUnit::relative;
  Range q_range_per_nm;      // first and last point used
  Eigen::Index first = 0;    // index of the first point used
  Eigen::Index points = 0;   // number of points used
  Eigen::Index dropped = 0;  // points below the window that did not obey the law
  double q_rg_low = 0.0;     // q Rg of the first and of the last point used
  double q_rg_high = 0.0;
  double chi2 = 0.0;  // of the pointwise uncertainties; NaN when the curve has none
  int degrees_of_freedom = 0;
  double chi2_probability = 0.0;  // to see a larger chi2 by chance
  /// kappa in ln I = ln I0 - y + kappa y^2, y = (q Rg)^2 / 3, with its u: 0 where the law is exact; -1/14 for a sphere.
  double curvature = 0.0;
  double curvature_u = 0.0;
  /// What this very window and these weights make of a sphere of this Rg: (Rg fitted / true - 1) in percent. Not
  /// corrected for, because the shape is not known.
  double sphere_bias_percent = 0.0;
  std::vector<std::string> warnings;
};

/// Raises InputError (options, range, too few points, a curve without sound q or uncertainties) and NumericalError when
/// there is no Guinier range or the intensity does not fall with q. `curve` must be sound, see check(curve).
GuinierFit fit_guinier(const Curve& curve, const GuinierOptions& options = {});

/// The law: I0 exp(-q^2 Rg^2 / 3) at q (m).
Eigen::VectorXd guinier_intensity(const GuinierFit& fit, const Eigen::VectorXd& q_per_nm);

}  // namespace sievelight
