// SPDX-License-Identifier: GPL-3.0-or-later
/// Where Guinier's law may be fitted: a window that starts at the first points that obey it and ends at q Rg <= 1.3.
/// For every possible start s the window is the longest whose own fit has q_end Rg <= q_rg_max (scanning upwards, and
/// stopping where q_end Rg is beyond it by three standard deviations). The first s is taken for which
///   (a) the window has at least `min_points` points and the intensity falls with q, in its lower half too,
///       and the points below it do not fall into a valley and rise again (a ripple of large objects, not their start);
///   (b) the lowest point agrees with the law fitted to the others: |I_s - law| <= drop_beyond * u, where
///       u^2 = u(I_s)^2 + u(law)^2 + (law_tolerance I_s)^2; an upturn or shadow near the beamstop fails it;
///   (c) chi-square of the window, with law_tolerance in quadrature, has a probability above 0.001.
/// Where none passes (c) the first that passes (a) and (b) is taken and `law_holds` is false.
/// The limit 1.3 for globular objects and the least number of five points are common practice (ISO 17867 names the
/// method); law_tolerance 1 % is the size of the law's own error on a sphere fitted to 1.3.
#pragma once

#include "sievelight/analysis/weights.hpp"
#include "sievelight/base/range.hpp"
#include "sievelight/curve/curve.hpp"

#include <optional>

namespace sievelight {

struct GuinierOptions {
  double q_rg_max = 1.3;                  // end of the window; 1.0 for elongated or hollow objects (common practice)
  std::optional<Range> q_range_per_nm{};  // a window of your own instead of the automatic one
  int min_points = 5;
  double drop_beyond = 3.5;     // lowest points further from the law than this many u are dropped
  double law_tolerance = 0.01;  // relative error of the law itself that the tests forgive
  double drop_up_to = 2.0;      // the window starts at most this factor of q above the first good point
};

struct GuinierWindow {
  Eigen::Index first = 0;
  Eigen::Index points = 0;
  Eigen::Index dropped = 0;  // points below it that were looked at and dropped
  bool law_holds = true;
};

/// Raises InputError for options or a range that make no sense, NumericalError when no window exists: the intensity
/// rises with q, or the first points lie beyond q_rg_max already.
GuinierWindow find_guinier_window(const Curve& curve, const PointWeights& weights, const GuinierOptions& options = {});

}  // namespace sievelight
