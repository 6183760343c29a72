// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/assumed_u.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {

AssumedU assume_u(const Curve& curve, double relative, double floor) {
  check(curve);
  if (!(relative >= 0) || !(floor >= 0) || !(relative + floor > 0) || !std::isfinite(relative + floor))
    throw InputError(fmt::format("the assumed uncertainty is {} of the intensity with a floor of {}.", relative, floor),
                     "Give numbers that are not negative, one of them above zero, such as 0.02 for 2 %.");
  AssumedU out{curve};
  const Eigen::Index n = curve.size(), reach = 2;
  for (Eigen::Index i = 0; i < n; ++i) {
    double& u = out.curve.private_u[i];
    if (u > 0) continue;
    const Eigen::Index first = std::max<Eigen::Index>(i - reach, 0), last = std::min(i + reach, n - 1);
    u = std::hypot(relative * curve.intensity.segment(first, last - first + 1).cwiseAbs().mean(), floor);
    if (!(u > 0))
      throw InputError(fmt::format("the intensity around q = {:.4g} 1/nm is zero and so would be its uncertainty.",
                                   curve.q_per_nm[i]),
                       "Give a floor above zero, in the curve's unit.");
    ++out.points;
  }
  return out;
}

}  // namespace sievelight
