// SPDX-License-Identifier: GPL-3.0-or-later
/// Where the instrument looks when it reports one point of a curve: q values and how much each counts.
#pragma once

#include "sievelight/curve/curve.hpp"
#include "sievelight/reduce/slit_rule.hpp"

#include <functional>
#include <vector>

namespace sievelight {

/// Points and weights that stand for an average.
struct Looks {
  std::vector<double> at, weight;
};

/// Points for a smooth factor times cos(phase): a Gauss rule is exact to rounding once its points outnumber half the
/// phase in radians by a few.
std::size_t points_for(double phase, std::size_t at_least);

/// Over the bin and the Gaussian resolution of point i, for form factors of particles up to `longest_nm`. A bin's q
/// count by their share of an annulus, or evenly along a strip. `more_blur_per_nm` is added in quadrature to the
/// resolution.
Looks bin_looks(const Curve& curve, Eigen::Index i, double longest_nm, bool annulus, double more_blur_per_nm = 0.0);

/// A line-shaped beam, prepared. A Gaussian width is left to bin_looks(), which folds it with the bin at once.
class SlitLooks {
 public:
  /// @param longest_nm of the particles. InputError from check(profile) and for an infinite slit, whose flat level
  /// would be infinite too.
  SlitLooks(const SlitProfile& profile, double longest_nm);
  /// Standard deviation in q of the Gaussian width at q.
  double width_per_nm(double q_per_nm) const;
  /// Calls visit(q, weight) for all that is seen when the detector stands at q; the weights sum to 1.
  void visit(double q_per_nm, const std::function<void(double, double)>& visit) const;
  /// The lowest and the highest q seen from a q.
  double lowest_per_nm(double q_per_nm) const;
  double highest_per_nm(double q_per_nm) const;

 private:
  SlitMap map_;
  double width_sd_ = 0.0;
  WidthRule width_;    // of a measured width, else one point
  LineWeight length_;  // folded; empty without one
  double longest_step_ = 0.0;
};

}  // namespace sievelight
