// SPDX-License-Identifier: GPL-3.0-or-later
/// Do peaks carry the curve? A sum of smooth form factors cannot make a sharp peak, so an inversion into sizes answers
/// with sizes that are not there. How much of the curve the peaks are decides whether to leave their windows out, or to
/// leave the inversion.
///   `none`     no peak of order;
///   `disturb`  peaks are there, but small: leave `windows_per_nm` out of an inversion;
///   `carry`    the peaks hold `carry_share` of the invariant-like sum of q^2 I over the range; or the highest reaches
///              `carry_height` of the background under it, and they hold a thirtieth of that share when they are two
///              or more, half of it when it stands alone: spheres have nothing to say about this curve.
/// Thresholds are common practice: at 0.3 of the background a peak is ten times what the law of a smooth curve
/// forgives. A lone ripple of the form factor far out, where little is left, can be as high over its background: in 13
/// of 5543 simulated curves of smooth sizes (tests/coverage), with 0.1 to 4.4 % of q^2 I. It must not stop an
/// inversion.
#pragma once

#include "sievelight/analysis/curve_peaks.hpp"

#include <string>
#include <vector>

namespace sievelight {

/// Curves with fewer points are not asked for peaks of order before an inversion.
inline constexpr Eigen::Index fewest_points_for_order = 30;

enum class PeakRole { none, disturb, carry };
const char* name(PeakRole role);  // "none", "disturb", "carry"

struct PeakShareOptions {
  double carry_height = 0.3;
  double carry_share = 0.1;
};

struct PeakShare {
  PeakRole role = PeakRole::none;
  double intensity_share = 0.0;       // sum of peak areas over the integral of I
  double q2_share = 0.0;              // the same weighted by q^2
  double highest_contrast = 0.0;      // largest height over background (infinite where the background is not positive)
  double chi2_per_point = 0.0;        // what leaving the peaks out adds to chi2, per point of the range; NaN without u
  std::vector<Range> windows_per_nm;  // 1.5 widths on each side of every peak, joined where they overlap
  std::string words;                  // one sentence with the figures
};

/// InputError when the peaks do not belong to the curve.
PeakShare peak_share(const Curve& curve, const CurvePeaks& peaks, const PeakShareOptions& options = {});

}  // namespace sievelight
