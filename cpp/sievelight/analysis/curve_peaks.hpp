// SPDX-License-Identifier: GPL-3.0-or-later
/// Peaks of an ordered structure on a curve I(q): where they are, how high, how wide, and how sure that is.
/// 1. A scan for Gaussians on a smooth background, the clearest first, until chance could have made the next one
///    (peak_scan.hpp; the rate counts every place and width that is looked at).
/// 2. Neighbouring peaks are fitted together on a background of their own (peak_fit.hpp).
/// 3. A peak is set aside, with the reason, when ripples of a form factor explain the same points as well
///    (oscillation.hpp), when it stands among such or overlaps its neighbours into a wave, when it is so broad that it
///    shows a usual distance but no order, when it leans on the flank of a far higher one, or needs a negative
///    background. A true peak that is weak beside its noise is often set aside as a possible ripple: indexing knows of
///    those.
/// Window: the points within 3.5 widths of a peak; reported. Uncertainties follow every cause of the curve through the
/// influence: an error of the distance or the wavelength, carried as u = -dI/dq Delta q, moves the positions by Delta
/// q. Resolution: the curve's q_resolution (one sd) and the width of its bins (width^2 / 12) make the blur; the own
/// width is what remains (peak_profile.hpp), and where nothing certain remains, an upper limit takes its place.
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/peak_profile.hpp"
#include "sievelight/base/range.hpp"
#include "sievelight/curve/curve.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct PeakOptions {
  std::optional<Range> q_range_per_nm{};          // where to look; the whole curve otherwise
  double false_alarm = 0.01;                      // probability that noise alone yields a peak somewhere
  PeakProfile profile = PeakProfile::automatic;   // by BIC, group by group
  double largest_relative_width = 0.2;            // full width at half height over q; a broader hump is no order
  double background_tolerance = 0.005;            // relative error of the smooth background under a peak
  double least_advantage = 6.0;                   // BIC by which peaks must beat ripples
  std::optional<double> resolution_relative_u{};  // relative u of the blur's width; 5 % unless given
  int most_peaks = 30;
};

struct CurvePeak {
  CurveEstimate q_per_nm;              // position
  CurveEstimate height;                // above the background, curve's unit
  CurveEstimate area;                  // curve's unit / nm
  CurveEstimate fwhm_per_nm;           // as observed
  CurveEstimate own_fwhm_per_nm;       // without the blur; value 0 where the blur explains all of it
  double own_fwhm_limit_per_nm = 0.0;  // 95 % upper limit of the own width
  double blur_fwhm_per_nm = 0.0;       // of resolution and bin
  bool resolution_known = false;       // the curve carries a resolution
  bool resolution_limited = false;     // the own width is not clear of zero: use the limit
  PeakProfile profile = PeakProfile::gaussian;
  double lorentzian_share = 0.0;  // eta
  double background = 0.0;        // under the peak, curve's unit
  double z = 0.0;                 // of the scan: height over its u, with the background's tolerance
  double false_alarm = 0.0;       // probability that noise alone reaches z anywhere on the curve
  double advantage = 0.0;         // BIC(ripples) - BIC(peaks)
  Range window_per_nm;            // of the points fitted
  double chi2_probability = 0.0;  // of the group's fit; NaN where the curve has no uncertainty
  std::string set_aside;          // empty for a peak of order; else why not
};

struct CurvePeaks {
  std::vector<CurvePeak> peaks;      // rising in q
  std::vector<CurvePeak> set_aside;  // humps, ripples, doubtful ones
  Range q_range_per_nm;              // looked at
  double false_alarm = 0.0;          // as asked for
  double places = 0.0;               // independent places looked at
  IntensityUnit unit = IntensityUnit::relative;
  Eigen::VectorXd background;  // (n) under peaks and set-aside ones; NaN outside their windows
  Eigen::VectorXd fit;         // (n) with them; NaN outside
  std::vector<std::string> warnings;
};

/// Raises InputError for options or a range that make no sense, a curve of fewer than 15 points in it, or points of
/// which only some have an uncertainty. `curve` must be sound, see check(curve).
CurvePeaks find_curve_peaks(const Curve& curve, const PeakOptions& options = {});

}  // namespace sievelight
