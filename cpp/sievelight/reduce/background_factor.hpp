// SPDX-License-Identifier: GPL-3.0-or-later
/// The scale of a background that nobody measured, and the check that not too much was subtracted.
/// Source: weighted least squares, textbook; the choice of a range without scattering of the sample is the user's.
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/reduce/background.hpp"

#include <string>

namespace sievelight {

struct BackgroundFactor {
  Factor factor;                // f that brings the background onto the sample between q_low and q_high
  double u = 0.0;               // total standard uncertainty
  double chi2_per_point = 0.0;  // above 1 the shapes differ, and u is widened by its square root
  int points = 0;
  Range q_range_per_nm = {};
  std::string note;  // for the findings: it was fitted, not measured
};

/// f = sum(w A) / sum(w B) with A = S_s/T_s and B = S_b/T_b (T = 1 where absent) over the bins inside the range,
/// weights w = B / (Var A + f^2 Var B) from smoothed curves (a least-squares slope on B would be low, because B has
/// noise): ready to be AbsoluteOptions::background_scale. Causes: the sample's counts as "background scale:
/// <background> fitted to <sample>", the background's own as "background scale: <background>" (the same for every
/// sample fitted to it), and whatever coherent causes the curves carry, with sign. The counts used are also in the
/// curves; that correlation is left out (it vanishes outside the range).
BackgroundFactor fit_background_factor(const Measured& sample, const Measured& background, Range q_range_per_nm);

/// Did the subtraction take too much?
struct OverSubtraction {
  double negative_share = 0.0;  // of the bins
  double lowest_z = 0.0;        // most negative mean of a run of bins, in its standard uncertainties (all causes)
  Range q_range_per_nm = {};    // that run
  bool significant = false;     // lowest_z is beyond what chance gives in one of a hundred curves
};
/// Tests runs of up to `run` neighbouring bins; the limit counts how many runs were tried.
OverSubtraction over_subtracted(const Curve& curve, int run = 10);

}  // namespace sievelight
