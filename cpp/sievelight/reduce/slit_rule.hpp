// SPDX-License-Identifier: GPL-3.0-or-later
/// The profile of slit.hpp as the quadratures of this folder use it: positions to q and back, folded weights.
#pragma once

#include "sievelight/base/gauss_rule.hpp"
#include "sievelight/reduce/slit.hpp"

#include <vector>

namespace sievelight {

/// Between q and the distance from the beam in the detector plane (or q itself without a geometry).
struct SlitMap {
  explicit SlitMap(const SlitProfile& profile);
  double place(double q_per_nm) const;  // q -> distance from the beam
  double q_per_nm(double place) const;  // back
  double q_slope(double place) const;   // dq/dplace
 private:
  double four_pi_over_lambda_ = 0.0, distance_mm_ = 0.0;  // zero without a geometry
};

/// W(l) + W(-l) for l >= 0: straight between its knots. Empty for an infinite slit and for none.
LineWeight folded(const LineWeight& length);
double value(const LineWeight& profile, double position);

/// Points and weights (sum 1) that stand for the width.
struct WidthRule {
  std::vector<double> at, weight;
};
WidthRule width_rule(const SlitProfile& profile);

}  // namespace sievelight
