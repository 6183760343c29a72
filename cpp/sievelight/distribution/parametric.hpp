// SPDX-License-Identifier: GPL-3.0-or-later
/// A named distribution fitted to a curve: something simple to hold the free-form answer against.
/// Weighted least squares with the curve's covariance, as in the inversion: pointwise uncertainties, coherent causes
/// and a flat level of either sign as directions of it; volume and K q^-p (both >= 0) are profiled out. Uncertainties
/// are those of the linearised fit, widened where chi^2 says that the points scatter more than stated. They are
/// conditional on the family: a wrong family is visible in chi^2 only, and often not even there. Families are compared
/// by BIC = chi^2 + k ln n (G. Schwarz, Ann. Stat. 6 (1978) 461), k the fitted numbers.
#pragma once

#include "sievelight/distribution/invert.hpp"
#include "sievelight/distribution/size_family.hpp"

#include <map>
#include <string>
#include <vector>

namespace sievelight {

struct ParametricOptions {
  double contrast_per_cm2 = 0.0;  // 0: unknown, no volume fraction
  bool power_law = false;         // K q^-p, K >= 0
  std::optional<Range> q_range_per_nm = {};
  std::uint64_t seed = 1;
  KernelOptions kernel = {};
};

struct ParametricFit {
  std::string family, shape;
  std::map<std::string, Estimate> parameters;  // by parameter_names()
  // Of the whole distribution, volume-weighted; bands from draws of the linearised fit.
  Estimate x10_nm, x50_nm, x90_nm, mean_nm, relative_width;
  // NaN without contrast and 1/cm. As of SizeDistribution: dilute particles give phi (1 - phi), and no root of it is
  // solved for here; with hard spheres the volume is phi.
  Estimate phi_one_minus_phi, volume_fraction;
  Estimate background, power_law_k;
  Eigen::VectorXd diameter_nm, q3_per_nm, q3_low95, q3_high95;  // (m) volume-weighted density, 1/nm
  Eigen::VectorXd q_per_nm, measured, fit, residual;            // (n) points used; residual in pointwise u
  double chi2 = 0.0, degrees_of_freedom = 0.0;
  double probability = 0.0;  // that a right model gives a chi^2 as large
  double bic = 0.0;
  double noise_scale = 1.0;                          // factor on the uncertainties, >= 1
  std::map<std::string, Eigen::VectorXd> influence;  // (n of the curve given), as of SizeDistribution
  std::vector<std::string> warnings;
};

/// Sizes for a named distribution seen between two q: fine enough that the last fringes of the largest size are seen
/// and a width of 2 % stands on several nodes; all of it is the window.
SizeGrid family_grid(double q_min_per_nm, double q_max_per_nm);

/// InputError as invert(); NumericalError when no start leads to a minimum with volume.
ParametricFit fit_parametric(const Curve& curve, SizeFamily family, const ParametricOptions& options = {});

}  // namespace sievelight
