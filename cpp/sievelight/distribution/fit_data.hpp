// SPDX-License-Identifier: GPL-3.0-or-later
/// From a measured curve to the numbers that an inversion works on: usable points, kernel, covariance, scales.
#pragma once

#include "sievelight/distribution/preview.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// The points of a curve that can be fitted, and where they came from.
struct UsablePoints {
  Curve curve;
  std::vector<Eigen::Index> index;    // of each point in the curve given
  std::vector<std::string> warnings;  // what was left out and why
};

/// Leaves out points beyond the q range or without an uncertainty. InputError when fewer than 12 remain, naming the
/// reason, and from check(curve).
UsablePoints usable_points(const Curve& curve, const std::optional<Range>& q_range_per_nm);

/// Ready to be fitted: I = columns * x + flat level + K q^-p + coherent shifts + noise, x in units of `reference`.
/// K >= 0 is a column of its own for the non-negative fit. The sampled method integrates it out instead, as a coherent
/// direction with a half-normal prior, because draws would not move between "K" and "very large sizes".
struct FitData {
  Eigen::VectorXd intensity;          // (n)
  Eigen::VectorXd given_u;            // (n) pointwise uncertainties as given, before any widening
  Eigen::MatrixXd columns;            // (n, p) curve per unit of x; p = nodes, plus K q^-p unless integrated out
  Eigen::Index nodes = 0;             //
  double reference = 1.0;             // x = 1 means this volume fraction per ln D (or 1/(cm nm^3) without contrast)
  double power_law_scale = 0.0;       // prior sd of K, curve's unit times 1/nm^p; 0 when there is none
  Eigen::VectorXd power_law;          // (n) curve of that K
  bool power_law_integrated = false;  // K is the first coherent direction of `noise`
  double background_scale = 0.0;      // prior sd of the flat level
  CoherentCauses coherent;            // rebuilt on the fitted curve
  Noise noise{{}, {}};                // pointwise, coherent, and the flat level as the last coherent direction
  Compressed compressed;              //
  Preview start;                      // in units of x; of the nodes, then K unless integrated out
};

/// @param contrast_per_cm2 0 when unknown. @param integrate_power_law see FitData.
FitData make_fit_data(const Curve& usable, const Kernel& kernel, double contrast_per_cm2, bool power_law,
                      bool integrate_power_law);

/// The same with the pointwise uncertainties multiplied by a factor.
FitData widen(FitData data, double factor);

}  // namespace sievelight
