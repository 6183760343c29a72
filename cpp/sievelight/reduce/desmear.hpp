// SPDX-License-Identifier: GPL-3.0-or-later
/// Desmearing for the eye: an estimate of the curve that a pinhole would have seen.
/// Sizes are never fitted to it. The slit is folded into what is fitted instead, because desmearing makes noise larger
/// and neighbouring points dependent. The result is therefore no Curve and carries no uncertainty.
/// Source: J. A. Lake, Acta Cryst. 23 (1967) 191: I_0 = M, I_{k+1} = I_k M / J[I_k].
#pragma once

#include "sievelight/reduce/smear.hpp"

#include <string>
#include <vector>

namespace sievelight {

struct DesmearOptions {
  int most_iterations = 500;
  double chi2_per_point = 1.0;  // stop at the first J[I_k] that is as close to M as its noise; closer is fitting noise
  double least_change = 1e-7;   // stop when no point changes by more (relative), with or without uncertainties
  SmearOptions smear = {.interpolation = Interpolation::linear};
};

struct Desmeared {
  Eigen::VectorXd q_per_nm;
  Eigen::VectorXd intensity;     // (n) for plots only
  Eigen::VectorXd smeared;       // (n) J of it, to lay over the data
  Eigen::VectorXd extrapolated;  // (n) share of J that comes from beyond the last point
  int iterations = 0;
  double chi2_per_point = 0.0;  // NaN where a point has no uncertainty
  std::string note;             // what this is, how it stopped, and what was assumed beyond the data
};

/// Uses q, intensity and what scatters from point to point. InputError for fewer than four points or an intensity that
/// is not positive (the iteration divides).
Desmeared desmear_lake(const Curve& measured, const SlitProfile& profile, const DesmearOptions& options = {});

}  // namespace sievelight
