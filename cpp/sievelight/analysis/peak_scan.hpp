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
#include <vector>

namespace sievelight {

struct PeakScanOptions {
  double false_alarm = 0.01;            // probability that a curve without peaks yields one or more
  double background_tolerance = 0.005;  // relative error of the background's law under a peak
  double largest_relative_width = 0.2;  // full width at half height over q
};

struct PeakCandidate {
  Eigen::Index at = 0;
  double q_per_nm = 0.0, fwhm_per_nm = 0.0, height = 0.0;
  double z = 0.0;            // height over its u, background's tolerance and excess scatter included
  double false_alarm = 0.0;  // probability that noise alone reaches z somewhere on the curve
};

/// The scan of one curve. Looks are kept, so that taking a found peak away costs only the looks that it touches.
class PeakScan {
 public:
  /// q, intensity, variance: (n).
  PeakScan(const Eigen::ArrayXd& q_per_nm, const Eigen::ArrayXd& intensity, const Eigen::ArrayXd& variance,
           const PeakScanOptions& options);
  /// Looks again wherever intensity or variance has changed.
  void update(const Eigen::ArrayXd& intensity, const Eigen::ArrayXd& variance);
  /// Does not look for peaks of `least_width` or more within `reach` of q again.
  void block(double q_per_nm, double reach_per_nm, double least_width_per_nm = 0.0);
  /// The clearest peak that chance makes less often than the false alarm rate, or none.
  std::optional<PeakCandidate> clearest() const;
  /// Probability that noise alone reaches z anywhere on the curve.
  double by_chance(double z) const;
  /// Independent places to which the scan amounts at its threshold c: by_chance(c) / Q(c).
  double places() const;

 private:
  struct Look {
    Eigen::Index at = 0, first = 0, last = 0;
    double width = 0.0, z = 0.0, raw_z = 0.0, height = 0.0;
    bool blocked = false;
  };
  PeakScanOptions options_;
  Eigen::ArrayXd q_, intensity_, variance_;
  std::vector<Look> looks_;
  double segments_ = 0.0, kappa_ = 0.0;
};

}  // namespace sievelight
