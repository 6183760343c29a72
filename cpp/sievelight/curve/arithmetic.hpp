// SPDX-License-Identifier: GPL-3.0-or-later
/// Arithmetic of curves that follows every cause of error.
/// Signed vectors add, subtract and scale per id before anything is squared, so an error that two curves share cancels
/// in their difference and does not in their sum.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <vector>

namespace sievelight {

/// A number with its own coherent causes: id -> signed standard deviation (in the number's unit).
struct Factor {
  double value = 1.0;
  std::map<std::string, double> causes;
};

/// a + b and a - b on identical bins; InputError when bins, units or slits differ. Private parts add in quadrature: a
/// curve that is subtracted from several others must be share()d first.
Curve add(const Curve& a, const Curve& b);
Curve subtract(const Curve& a, const Curve& b);

/// k * curve; u(k I) = k u_I + I u_k per id (an id that is in both adds with sign).
Curve scale(const Curve& curve, const Factor& k);
/// Product and quotient of factors, ids kept with sign.
Factor multiply(const Factor& a, const Factor& b);
Factor divide(const Factor& a, const Factor& b);

/// Turns the private part into a pointwise cause of the given id, because several curves are going to carry it.
Curve share(const Curve& curve, const std::string& id);

/// The points at these indices (rising), with all that belongs to them.
Curve pick(const Curve& curve, const std::vector<Eigen::Index>& points);

/// The points with low <= q <= high; InputError when none remains.
Curve crop(const Curve& curve, double q_low_per_nm, double q_high_per_nm);

/// Merges each run of `group` neighbouring bins into one: weights are the widths of the bins (or 1). Ids are kept; a
/// pointwise cause keeps its sign, and its covariance with another curve is exact where both have it in one proportion
/// within a group. Resolution and slit sizes are the root mean square of the group's.
Curve rebin(const Curve& curve, int group);

}  // namespace sievelight
