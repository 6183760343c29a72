// SPDX-License-Identifier: GPL-3.0-or-later
/// One curve from two configurations (camera lengths) of one sample that overlap in q.
///
/// The scale. In the overlap both curves see one smooth I(q) = exp(sum_j c_j B_j(ln q)) (cubic B-splines, their number
/// by Akaike's information criterion: too few would bias the scale, one too many hardly costs), each through its own
/// bins (weight q, the area of an annulus) and its own q resolution. c and the ratio of the curves are fitted to both
/// at once; weights are smoothed variances of what scatters from point to point, so that a point that is low by chance
/// weighs no more. The scale is then a known function of all points, and every cause of error of both curves is
/// propagated through it with its sign: what both share (an absolute scale, a thickness) leaves the scale untouched,
/// and what only one has moves the scale. What comes from counts is the new coherent cause "merge scale: <name>".
///
/// What is kept. Below one q the points of `low`, above it those of `high`, none averaged, so private parts stay
/// private. Bins are kept whole: at the cut there may be a gap of less than one bin.
///
/// Causes on the merged curve. Coherent ids go on over both parts. A pointwise id holds for equal bins only; it keeps
/// its name, because point i of the merged curve still has the random number of its own bin, and all curves merged on
/// the same bins share it; with an unmerged curve it is refused as any unequal bins are (covariance()). The scale's
/// error from counts is taken as independent of the points it was made from; the test measures what that costs.
/// Sources: H. Akaike, IEEE Trans. Autom. Control 19 (1974) 716 (criterion); JCGM 100:2008 (GUM) 5.2.2 (propagation).
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/curve/arithmetic.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

enum class MergeSide { low, high };
enum class MergeRule {
  smaller_error,      // the cut that leaves the most information, sum of (I/u)^2
  better_resolution,  // the cut that leaves the sharpest points, sum of 1/resolution^2
};

struct MergeOptions {
  std::string name = "high";           // of the cause "merge scale: <name>"
  MergeSide scaled = MergeSide::high;  // which curve is multiplied by the scale
  MergeRule keep = MergeRule::smaller_error;
  std::optional<Factor> scale = {};          // fixed instead of fitted, e.g. Factor{1.0}
  std::optional<Range> q_range_per_nm = {};  // where the curves are compared; the whole overlap otherwise
  std::optional<double> q_cut_per_nm = {};   // where to change over; by `keep` otherwise
};

struct Merged {
  Curve curve;
  Factor scale;  // of the scaled curve, with the causes that move it
  double scale_u = 0.0;
  Range overlap_per_nm;  // where the curves were compared
  double q_cut_per_nm = 0.0;
  int points_low = 0, points_high = 0;  // compared
  // Agreement in the overlap with the full covariance of both (all causes): chi2 of the residuals of the common smooth
  // curve. NaN where a point has no uncertainty.
  double chi2 = 0.0, p_value = 0.0;
  int degrees_of_freedom = 0;
  std::vector<std::string> notes, warnings;
};

/// InputError unless `low` begins and ends at lower q than `high`, both have one unit and one slit, three points or
/// more of each lie in the overlap, and neither carries "merge scale: <name>" yet; NumericalError when the intensity in
/// the overlap is not positive, so that no ratio exists.
Merged merge(const Curve& low, const Curve& high, const MergeOptions& options = {});

}  // namespace sievelight
