// SPDX-License-Identifier: GPL-3.0-or-later
/// How far the order reaches: the size of a coherent domain from the width of a peak.
///   D = 2 pi K / Delta q, Delta q the peak's own full width at half height, K the Scherrer constant.
/// It is Scherrer's K lambda / (beta cos theta): q = (4 pi / lambda) sin theta makes Delta q = (2 pi / lambda) beta cos
/// theta, exactly. K = 0.9 for domains near to cubes or spheres and the width at half height (common practice; 0.83 to
/// 1.1 for other shapes), so D is a volume-weighted length across the planes, known to some 10 % whatever its u says.
/// Distortion widens peaks too: D is then smaller than the domain, and the widths grow from order to order.
/// Where the blur explains the width, D has a lower limit only (from the own width's 95 % upper limit).
/// Source: P. Scherrer, Nachr. Ges. Wiss. Goettingen (1918) 98; A. L. Patterson, Phys. Rev. 56 (1939) 978 (K; both from
/// memory).
#pragma once

#include "sievelight/analysis/curve_peaks.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct DomainSize {
  int peak = 0;  // of CurvePeaks::peaks: the one whose own width is best known
  double scherrer_constant = 0.0;
  std::optional<CurveEstimate> domain_nm;  // none where the width is resolution-limited
  double lower_limit_nm = 0.0;             // 95 %, one-sided
  std::optional<double> periods;           // domain over 2 pi / q of that peak
  double width_growth_z = 0.0;             // significance of own widths growing with q; 0 with one peak
  std::vector<std::string> warnings;
};

/// InputError when there is no peak of order, or K is not positive.
DomainSize domain_size(const Curve& curve, const CurvePeaks& peaks, double scherrer_constant = 0.9);

}  // namespace sievelight
