// SPDX-License-Identifier: GPL-3.0-or-later
/// Sharp peaks along a line: a radius about a guessed centre, or a strip detector.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace sievelight {

/// Counts along a line in bins of one pixel; bin i spans positions [i, i + 1) px.
struct LineProfile {
  Eigen::ArrayXd counts;  // (n) summed over the usable pixels of the bin
  Eigen::ArrayXd pixels;  // (n) usable pixels
};

struct LinePeak {
  double position_px = 0.0;
  double u_px = 0.0;           // of the position, rough
  double half_width_px = 0.0;  // of the window that met it best
  double fwhm_px = 0.0;        // full width at half of its height above the flanks
  double contrast = 0.0;       // counts per pixel above the flanks
  double significance = 0.0;   // contrast over its standard deviation
};

struct LinePeakOptions {
  double least_significance = 6.0;
  double widest = 0.25;        // half-width of a window over its position (a radius); 0 = no such limit
  double widest_px = 16.0;     // and in pixels
  bool falls_outwards = true;  // false: a strip, where what surrounds the beam rises and falls
  double least_pixels = 8.0;   // a window or flank with fewer does not count
};

/// A window's mean less the geometric mean of its flanks' (out to three half-widths), in which a power law cancels to
/// first order and a convex background is never a peak. `noise` is infinite where too few pixels are in view.
struct LineContrast {
  double contrast = 0.0, noise = 0.0;
  double inner = 0.0, outer = 0.0, flank_noise = 0.0;  // means of the two flanks, noise of their difference
};
LineContrast line_contrast(const LineProfile& profile, double position_px, double half_width_px,
                           double least_pixels = 8.0);

/// Peaks by position. Where the outer flank is higher than the inner one by the peak's contrast, or by more than two
/// thirds, is the rim of a beamstop's shadow and none: what surrounds a beam falls outwards. Nor is a
/// shoulder, which stands out the more the wider one looks. Poisson noise, and 0.2 %
/// of the level besides for what pixels differ by (common practice).
std::vector<LinePeak> find_line_peaks(const LineProfile& profile, const LinePeakOptions& options = {});

}  // namespace sievelight
