// SPDX-License-Identifier: GPL-3.0-or-later
/// Averages over orientation by Gauss-Legendre rules whose number of points follows q times the size.
/// A rule of 24 points integrates cos(phase) over a stretch of 30 rad to rounding (the error of n points falls as
/// (e phase / 4n)^2n / 2 once n exceeds phase / 4), so a range is cut into stretches of that phase.
#pragma once

#include "sievelight/base/gauss_rule.hpp"
#include "sievelight/reduce/slit_rule.hpp"

#include <cmath>

namespace sievelight {

/// Calls visit(x, weight) at the points of a rule on [low, high] for integrands that turn by no more than `phase`
/// radians in all, evenly.
template <typename Visit>
void visit_points(double low, double high, double phase, const Visit& visit) {
  const GaussRule& gauss = gauss_rule(24);
  const int parts = 1 + static_cast<int>(phase / 30.0);
  const double step = (high - low) / parts;
  for (int p = 0; p < parts; ++p)
    for (std::size_t k = 0; k < gauss.at.size(); ++k) visit(low + step * (p + gauss.at[k]), step * gauss.weight[k]);
}

/// The integral of f over [low, high].
template <typename F>
double integrate_phase(const F& f, double low, double high, double phase) {
  double sum = 0;
  visit_points(low, high, phase, [&](double x, double weight) { sum += weight * f(x); });
  return sum;
}

}  // namespace sievelight
