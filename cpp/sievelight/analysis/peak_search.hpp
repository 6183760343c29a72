// SPDX-License-Identifier: GPL-3.0-or-later
/// The search behind find_curve_peaks(): the clearest peak of the scan is fitted, with its neighbours where these are
/// near, taken away, and the scan goes on, until chance could have made the next one. What does not stand apart (a bend
/// of the background, a part of another peak's profile, a hump far wider than the higher peak beside it) is not taken
/// up.
#pragma once

#include "sievelight/analysis/curve_peaks.hpp"
#include "sievelight/analysis/peak_fit.hpp"
#include "sievelight/analysis/peak_scan.hpp"

#include <Eigen/Core>
#include <vector>

namespace sievelight {

/// A fitted profile is right to about this share of the peak; the scan of what is left forgives as much, and so does
/// the comparison with ripples.
inline constexpr double profile_tolerance = 0.03;

/// The part of the curve that is looked at: (n) each; variance smooth enough for weights.
struct PeakSearchData {
  Eigen::ArrayXd q, intensity, variance;
};

/// Neighbouring peaks that share a window and a background.
struct PeakSearchGroup {
  std::vector<PeakStart> starts;
  std::vector<PeakCandidate> found;  // what the scan said of each
  Eigen::Index first = 0, points = 0;
  PeakGroup fit;
};

struct PeakSearch {
  std::vector<PeakSearchGroup> groups;
  double places = 0.0;  // independent places looked at
  int given_up = 0;     // excesses that could not be fitted
};

PeakSearch search_peaks(const PeakSearchData& data, const PeakOptions& options);

/// (n) what all groups but `without` (or none left out: nullptr) put on the curve.
Eigen::ArrayXd known_peaks(const std::vector<PeakSearchGroup>& groups, const PeakSearchGroup* without,
                           const Eigen::ArrayXd& q_per_nm);

}  // namespace sievelight
