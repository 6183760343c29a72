// SPDX-License-Identifier: GPL-3.0-or-later
/// Integrals of q^2 (I - B) k(q) over a whole curve, from 0 to infinity, with the influence of every point.
/// In three parts, so that the invariant (k = 1) and the correlation function (k = sin(qr)/(qr)) stand on the same
/// curve:
///   below the first point used   Guinier's law, or a flat start at the level of the first points (up to 1.1 q_first);
///   the data                     q^2 (I - B) as straight lines between the points, up to where the Porod fit takes
///                                over: its window's first point, or its last where the window's own points are to
///                                count (ripples, which the law does not know);
///   above                        the Porod fit, which the callers integrate in closed form (surface_tail() for k = 1).
/// B is the background of the Porod fit and carries its error into all parts.
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/guinier.hpp"
#include "sievelight/analysis/porod.hpp"

#include <functional>
#include <optional>

namespace sievelight {

class CurveIntegral {
 public:
  using Weight = std::function<double(double q_per_nm)>;

  /// `largest_r_nm`: k(q) swings as fast as sin(q largest_r). `guinier` and `porod` must come from this curve:
  /// InputError when they do not fit it or overlap.
  CurveIntegral(const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod,
                double largest_r_nm = 0.0, bool data_through_window = false);

  CurveSum below(const Weight& k) const;
  CurveSum data(const Weight& k) const;
  /// One sd of below(), relative: 10 % with Guinier's law, which puts the start of a random two-phase system that much
  /// low when fitted up to q Rg = 1.3; all of it where the start is flat (it is less than half of the truth where the
  /// curve falls from its first point on).
  double start_error() const { return guinier_ ? 0.1 : 1.0; }

  Eigen::Index first() const { return first_; }  // first point used
  Eigen::Index join() const { return join_; }    // from this point on the Porod fit stands in for the data

 private:
  struct Node {
    Eigen::Index interval;  // between the points interval and interval + 1
    double q, upper_share, weight;
  };
  Curve curve_;
  std::optional<GuinierFit> guinier_;
  PorodFit porod_;
  Eigen::Index first_ = 0, join_ = 0;
  Eigen::VectorXd low_q_, low_weight_;  // nodes below the first point
  std::vector<Node> nodes_;
};

}  // namespace sievelight
