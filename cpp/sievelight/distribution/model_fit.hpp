// SPDX-License-Identifier: GPL-3.0-or-later
/// One model (a kernel) fitted to a curve under both smoothness priors: the most probable densities over a range of
/// strengths, how well they fit, and the evidence for the model.
/// Evidence of a prior: integral over ln(strength), flat, of the Laplace approximation around the most probable
/// density; with the parts that models may differ in (chi^2 outside the compressed rows, determinant of the noise).
/// Differences between models of the same curve mean something, the number itself does not (D. MacKay 1992, Neural
/// Comput. 4, 415, from memory).
#pragma once

#include "sievelight/distribution/log_density.hpp"

#include <array>

namespace sievelight {

/// Orders of difference of the two smoothness priors that are pooled.
inline constexpr std::array<int, 2> prior_orders{2, 3};

/// The most probable densities under one prior, over strengths that rise.
struct PriorFit {
  LogDensity problem;
  Range ln_strength;
  std::vector<MostProbable> path;
  const MostProbable& best() const;  // of largest evidence
};

/// chi^2 of a fit, its degrees of freedom, and how likely a larger or smaller one is.
struct Goodness {
  double chi2 = 0, dof = 1;
  double ratio() const { return chi2 / dof; }
  double too_large() const;
  double too_small() const;
};
/// @param effective number of parameters fitted besides the flat level, which the covariance has absorbed.
Goodness goodness(const FitData& data, double chi2, double effective);

struct ModelFit {
  Kernel kernel;
  FitData data;
  std::vector<PriorFit> priors;  // by prior_orders
  Goodness fit;                  // of the best of both
  double effective = 0;          // its number of parameters, the flat level included
  /// One number a prior.
  std::array<double, 2> ln_evidence{};
};

/// Fits both priors. @param data of this kernel, with K (where there is one) integrated out.
ModelFit fit_model(FitData data, Kernel kernel);

}  // namespace sievelight
