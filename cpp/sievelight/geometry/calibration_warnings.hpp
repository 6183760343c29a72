// SPDX-License-Identifier: GPL-3.0-or-later
/// The words of a ring calibration: when to refuse and what to warn of.
#pragma once

#include "sievelight/geometry/calibrate.hpp"
#include "sievelight/geometry/ring_fit.hpp"
#include "sievelight/geometry/ring_points.hpp"
#include "sievelight/geometry/ring_search.hpp"

#include <cstddef>
#include <set>
#include <string>
#include <vector>

namespace sievelight {

/// Fewer ring points than this are chance finds.
inline constexpr std::ptrdiff_t least_ring_points = 10;

/// What was looked at and for.
struct RingScene {
  const Image& counts;
  const Mask& unusable;
  const DetectorGeometry& start;
  const Eigen::VectorXd& two_theta_rad;
  const RingOptions& options;
};

/// Azimuth (degrees) over which each ring of the list falls onto usable pixels, for a geometry.
Eigen::VectorXd visible_arc_deg(const RingScene& scene, const DetectorGeometry& geometry);

/// DataError when no ring of the list falls onto usable pixels within the searched range of distances and centres.
void refuse_frame_without_rings(const RingScene& scene);

/// DataError that says which rings were looked for, where, and what to check. `points`: how many
/// ring points agree on a geometry.
[[noreturn]] void refuse_rings_not_found(const RingScene& scene, std::size_t points);

/// True when the distance or the centre lies further from the start than half as much again as was searched.
bool left_the_search(const RingScene& scene, const DetectorGeometry& geometry);

/// DataError when the points scatter about their rings by more than two pixels and more than the rings are wide: no
/// geometry explains them.
void refuse_rings_that_disagree(const RingScene& scene, const RingFit& fit, const std::vector<RingPoint>& points);

/// Warnings in plain words; empty when there is nothing to object to. `points` are those offered to the last fit.
std::vector<std::string> calibration_warnings(const RingScene& scene, const RingCalibration& result,
                                              const std::vector<RingPoint>& points, const RingSearchResult& coarse,
                                              const std::set<int>& disagreeing);

}  // namespace sievelight
