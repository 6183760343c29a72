// SPDX-License-Identifier: GPL-3.0-or-later
/// Certified absolute intensity of glassy carbon, NIST SRM 3600.
/// Source: NIST Standard Reference Material 3600, certificate, Table 1; A. J. Allen, F. Zhang, R. J. Kline, W. F.
/// Guthrie, J. Ilavsky, J. Appl. Cryst. 50 (2017) 462. Transcribed from copies that agree with each other, not from
/// NIST's own file: compare once with the certificate.
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>
#include <string>

namespace sievelight {

/// A standard of absolute intensity, known at points and only between them.
struct IntensityStandard {
  std::string name;
  Eigen::VectorXd q_per_nm;                     // (n) rising
  Eigen::VectorXd intensity_per_cm;             // (n)
  Eigen::VectorXd standard_uncertainty_per_cm;  // (n) one standard deviation, common to all points
  Eigen::VectorXd expanded_uncertainty_per_cm;  // (n) as printed in the certificate; may be empty
  double relative_u = 0.0;                      // of the scale; averaging points does not shrink it
  double thickness_mm = 0.0;                    // nominal
  std::string source;
};

/// 59 points from 0.0827568 to 2.47402 1/nm; relative standard uncertainty 2.5795 %, the same at every point.
const IntensityStandard& srm3600();

/// Table by linear interpolation at q; InputError outside the certified range, never extrapolated.
double certified_intensity_per_cm(const IntensityStandard& standard, double q_per_nm);

/// Mean over a bin for a curve whose bin has its pixels' mean at q: I(q) plus what the curvature inside the bin adds,
/// <I> - I(<q>), averages taken with the weight q (pixels per ring). InputError when the bin leaves the range.
double certified_mean_per_cm(const IntensityStandard& standard, double q_per_nm, Range bin_per_nm);

}  // namespace sievelight
