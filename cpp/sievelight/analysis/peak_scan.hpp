// SPDX-License-Identifier: GPL-3.0-or-later
/// Where along a curve does a peak stand out of a smooth background, and how easily does chance make one?
/// At each place and for each width of a bank, a Gaussian and a background (smooth_shape() times a cubic in ln q) are
/// fitted to the points within 2.5 widths; z is the Gaussian's height over its u. Many places are looked at, so the
/// largest z of pure noise is no normal number. The filters are unit vectors; along one width they trace a path of
/// length kappa (sum of angles between neighbours) on the sphere, and
///   P(largest z > c) <= sum over widths of [ (segments of the path) Q(c) + kappa / (2 pi) exp(-c^2 / 2) ],
/// Q the normal tail. So overlapping places count as little as they should, and the rate holds for any spacing of q.
/// Source: H. Hotelling, Am. J. Math. 61 (1939) 440; D. Q. Naiman, Ann. Stat. 14 (1986) 896; M. Knowles, D. Siegmund,
/// Int. Stat. Rev. 57 (1989) 205 (all from memory); the rate is measured in the test of this file.
#pragma once

#include <Eigen/Core>
#include <optional>

namespace sievelight {

struct PeakScanOptions {
  double false_alarm = 0.01;             // probability that a curve without peaks yields one or more
  double background_tolerance = 0.005;   // relative error of the background's law under a peak
  double largest_relative_width = 0.2;   // full width at half height over q
};

struct PeakCandidate {
  Eigen::Index at = 0;
  double q_per_nm = 0.0, fwhm_per_nm = 0.0, height = 0.0;
  double z = 0.0;            // height over its u, background's tolerance and excess scatter included
  double false_alarm = 0.0;  // probability that noise alone reaches z somewhere on the curve
  double places = 0.0;       // independent places to which the scan amounts, false_alarm / Q(z)
};

/// The clearest peak, or none. q, intensity, variance: (n). `blocked` (n) marks centres that are not looked at again.
std::optional<PeakCandidate> clearest_peak(const Eigen::ArrayXd& q_per_nm, const Eigen::ArrayXd& intensity,
                                           const Eigen::ArrayXd& variance,
                                           const Eigen::Array<bool, Eigen::Dynamic, 1>& blocked,
                                           const PeakScanOptions& options);

}  // namespace sievelight
