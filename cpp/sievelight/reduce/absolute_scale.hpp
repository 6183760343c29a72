// SPDX-License-Identifier: GPL-3.0-or-later
/// The factor from measured to absolute intensity, from a standard.
/// k in I_table(q) = k I_measured(q) over the bins that lie inside the certified range, with the standard's own
/// thickness and transmission already in I_measured. Causes: "absolute scale: table" (the certificate's standard
/// uncertainty, one common factor: averaging points does not shrink it), "absolute scale: counts" (points of the
/// standard's curve, own and background's), and every coherent cause of the standard's curve under its own id with the
/// opposite sign (k ~ 1/I_measured). Left out: the standard's background counts are also in samples that subtract the
/// same background; averaged over all bins of the standard they move k by a few 1e-4 at most, against 2.58 % of the
/// table. Source: A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462; weighted least squares.
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/reduce/srm3600.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

struct AbsoluteScale {
  Factor factor;                // k and its causes
  double u = 0.0;               // total standard uncertainty
  double relative_u = 0.0;      // never below the table's
  double chi2_per_point = 0.0;  // of the shape, counts only; 0 when the curve has no point errors
  double trend = 0.0;           // change of measured/table from the lowest to the highest q used, relative
  double trend_u = 0.0;
  int points = 0;
  Range q_range_per_nm = {};        // used
  Eigen::VectorXd q_per_nm, ratio;  // (points) I_measured k / I_table, for a plot
  std::vector<std::string> warnings;
};

struct AbsoluteScaleOptions {
  /// Shape differences up to this relative size are not held against the standard (interpolation between certified
  /// points, 0.1 to 0.3 % where the curve bends most; measured in the tests).
  double shape_tolerance = 0.003;
  Range q_range_per_nm = {};  // narrows the range used
};

/// `measured`: the standard's S/T/d after its background, in the unit that k turns into 1/cm.
/// InputError when fewer than three bins lie in the certified range (both ranges named), or the standard does not
/// scatter.
AbsoluteScale absolute_scale(const Curve& measured, const IntensityStandard& standard = srm3600(),
                             const AbsoluteScaleOptions& options = {});

}  // namespace sievelight
