// SPDX-License-Identifier: GPL-3.0-or-later
/// Interpolation on equal stretches, each through the same number of Chebyshev points.
/// Second barycentric formula with first-kind points: J.-P. Berrut, L. Trefethen 2004, SIAM Rev. 46, 501 (from memory).
#pragma once

#include "sievelight/base/units.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>

namespace sievelight {

/// Points on [low, high], cut into `stretches`; values at all points interpolate anywhere between.
class ChebyshevStretches {
 public:
  static constexpr Eigen::Index points_each = 18;
  using Shares = Eigen::Array<double, points_each, 1>;

  ChebyshevStretches(double low, double high, Eigen::Index stretches)
      : low_(low), step_((high - low) / static_cast<double>(stretches)), stretches_(stretches) {
    for (Eigen::Index k = 0; k < points_each; ++k) {
      const double angle = (static_cast<double>(k) + 0.5) * pi / static_cast<double>(points_each);
      at_[k] = std::cos(angle);
      weight_[k] = (k % 2 == 0 ? 1.0 : -1.0) * std::sin(angle);
    }
  }

  Eigen::Index size() const { return stretches_ * points_each; }
  double high() const { return low_ + step_ * static_cast<double>(stretches_); }
  double point(Eigen::Index i) const {
    return low_ + step_ * (static_cast<double>(i / points_each) + 0.5 * (1 + at_[i % points_each]));
  }

  /// First point of the stretch that holds x, and how much each of its points counts at x.
  Eigen::Index shares(double x, Shares& out) const {
    const double place = (x - low_) / step_;
    const auto stretch = std::clamp<Eigen::Index>(static_cast<Eigen::Index>(place), 0, stretches_ - 1);
    const double t = 2 * (place - static_cast<double>(stretch)) - 1;
    const Shares off = t - at_;
    Eigen::Index nearest = 0;
    if (off.abs().minCoeff(&nearest) < 1e-15) {
      out.setZero();
      out[nearest] = 1;
    } else {
      out = weight_ / off;
      out /= out.sum();
    }
    return stretch * points_each;
  }

 private:
  double low_, step_;
  Eigen::Index stretches_;
  Shares at_, weight_;
};

}  // namespace sievelight
