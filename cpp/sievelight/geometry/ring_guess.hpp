// SPDX-License-Identifier: GPL-3.0-or-later
/// A first geometry from a calibrant's frame, its wavelength and pixel size, and nothing else.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/detector.hpp"
#include "sievelight/geometry/line_peaks.hpp"

#include <Eigen/Core>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace sievelight {

/// What is known of an instrument before its calibration. Wavelength and pixel size must be; a distance or a beam point
/// known roughly narrow the search.
struct RingKnowledge {
  double wavelength_nm = 0.0;
  double pixel_size_x_mm = 0.0, pixel_size_y_mm = 0.0;
  std::optional<double> distance_mm;                        // known within distance_relative
  std::optional<std::pair<double, double>> beam_center_px;  // (column, row), known within 25 px
  double distance_relative = 0.2;
};

/// One explanation of the rings.
struct RingExplanation {
  DetectorGeometry geometry;
  double log_gain = 0.0;  // ln of its likelihood over peaks anywhere (ring_hypothesis.hpp)
  int matched = 0, missing = 0, strays = 0;
  std::vector<int> order;  // of each of the guess's peaks, 0 = none
};

struct RingGuess {
  std::vector<RingExplanation> explanations;  // the likeliest first; distances at least 3 % apart
  std::vector<LinePeak> peaks;                // rings seen about the likeliest centre, radii in px
  double center_x_px = 0.0, center_y_px = 0.0;
  std::string other;  // "hexagonally ordered pores", ... where their ratios explain the peaks better; else empty
  double other_gain = 0.0;
};

/// Explanations of the rings of a list of spacings; none when no sharp ring stands out or none fits. Tilt is taken as
/// none. two_theta_rad: (n) rising, below 80 degrees. Method: guess_centers; sharp peaks of the radial profile about
/// each that stand out in most directions (a shadow's edge or a single crystal's spot does not); every pairing of a
/// peak with a ring of the list as a hypothesis for the distance, judged by match_rings. Where only arcs are in view
/// the radii may be off by a common amount, which is searched too and moves the centre.
RingGuess guess_rings(const Image& counts, const Mask& unusable, const RingKnowledge& known,
                      const Eigen::VectorXd& two_theta_rad);

/// Radial profile about a centre in bins of one (mean) pixel, and the share of `sectors` directions in view.
struct PolarProfile {
  LineProfile all;
  std::vector<LineProfile> sectors;  // 24 equal parts of the azimuth
};
PolarProfile polar_profile(const Image& counts, const Mask& unusable, const DetectorGeometry& geometry);

/// Sharp peaks of the profile that stand out in at least 70 % of the directions in which they are in view.
std::vector<LinePeak> ring_like_peaks(const PolarProfile& profile);

}  // namespace sievelight
