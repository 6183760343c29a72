// SPDX-License-Identifier: GPL-3.0-or-later
/// Which law does the tail ask for? Every law of tail_law.hpp, fitted to one window and set side by side.
/// A window that a fit chooses for itself is no judge: a law that lacks a term finds a short window in which it passes,
/// with a K that is wrong by many times its u (measured: -26 % with u 5 % for B + F q^2 where the walls are smooth,
/// too). So the window is given, wide enough that the laws differ in it, and the same for all.
///
///   criterion = chi-square + p ln m, less the least of all; p numbers, m points, the law's tolerance in the variance;
///   share = exp(-criterion / 2), normalised.
///
/// `constant` is K averaged over the laws with these shares; its u holds both their own u and their disagreement.
///
/// Source: G. Schwarz, Ann. Stat. 6 (1978) 461; averaging: J. A. Hoeting et al., Stat. Sci. 14 (1999) 382 (both from
/// memory).
#pragma once

#include "sievelight/analysis/porod.hpp"

#include <string>
#include <vector>

namespace sievelight {

struct TailCandidate {
  PorodFit fit;
  double chi2 = 0.0;       // with the law's tolerance in the variance, the same for all laws
  double criterion = 0.0;  // above that of the best
  double share = 0.0;
};

struct TailComparison {
  std::vector<TailCandidate> candidates;  // best first
  Estimate constant;                      // K over all laws, in the curve's unit nm^-4
  std::vector<std::string> findings;
};

/// Raises InputError for fewer than 12 points in the range, NumericalError where not even the plain law can be fitted.
TailComparison compare_tail_laws(const Curve& curve, Range q_range_per_nm, double law_tolerance = 0.01);

}  // namespace sievelight
