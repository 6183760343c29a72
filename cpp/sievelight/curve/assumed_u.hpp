// SPDX-License-Identifier: GPL-3.0-or-later
/// Uncertainties for points that came without: a declared error model, never a silent one.
/// u_i = sqrt((relative * m_i)^2 + floor^2), m_i the mean of |I| over the five points around i, so that a low point
/// does not claim a small error and pull a fit down. Common practice; what it is worth shows in chi^2 only.
#pragma once

#include "sievelight/curve/curve.hpp"

namespace sievelight {

struct AssumedU {
  Curve curve;
  Eigen::Index points = 0;  // that had no uncertainty
};

/// Points whose private uncertainty is zero get one; the others keep theirs. InputError when relative or floor is
/// negative or both are zero, from check(curve), and when a point would still have none.
AssumedU assume_u(const Curve& curve, double relative, double floor);

}  // namespace sievelight
