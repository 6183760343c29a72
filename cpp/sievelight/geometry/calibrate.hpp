// SPDX-License-Identifier: GPL-3.0-or-later
/// Ring calibration: distance, beam centre and tilt from the powder rings of a calibrant.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/calibrant.hpp"
#include "sievelight/geometry/detector.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

struct RingOptions {
  bool refine_tilt = false;
  int max_order = 0;              // rings used at most; 0 = all in view
  double search_relative = 0.08;  // a ring is looked for within this relative distance of its predicted radius
  double search_px = 12.0;        // plus this many pixels, for a centre that is off
};

struct RingCalibration {
  DetectorGeometry geometry;            // refined
  std::vector<std::string> parameters;  // names of the refined parameters, e.g. "distance_mm"
  Eigen::MatrixXd covariance;           // (p, p) of them, from the scatter of the ring points
  double residual_px = 0.0;             // rms distance of the points from their rings, in pixels
  Eigen::VectorXd x_px, y_px;           // (m) ring points used
  Eigen::VectorXi order;                // (m) ring each belongs to, from 1
  Eigen::VectorXd residuals_px;         // (m) signed
  std::vector<std::string> warnings;    // too few rings, too short an arc, ...
};

/// Refines `start` on the rings of `d_nm` seen in `counts`. Starts up to 5 % off in distance and 10 px off in centre
/// are inside the design. DataError when no ring is in view; NumericalError when the fit does not settle.
RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const DetectorGeometry& start,
                                const Eigen::VectorXd& d_nm, const RingOptions& options = {});

}  // namespace sievelight
