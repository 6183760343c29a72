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
  double search_relative = 0.08;  // distances searched: the start's -+ this, relative
  double search_px = 12.0;        // centres searched: the start's -+ this in column and row
  double beam_fwhm_mm = 0.0;      // beam at the detector; its blur draws a small ring inwards, which is then undone
};

struct RingCalibration {
  DetectorGeometry geometry;            // refined
  std::vector<std::string> parameters;  // (p) names of the refined parameters, e.g. "distance_mm"
  Eigen::MatrixXd covariance;           // (p, p) of them, from the scatter of the ring points
  double residual_px = 0.0;             // rms distance of the points from their rings, in pixels
  Eigen::VectorXd x_px, y_px;           // (m) ring points used
  Eigen::VectorXi order;                // (m) ring each belongs to, from 1
  Eigen::VectorXd residuals_px;         // (m) signed, outwards
  Eigen::VectorXi rings;                // (r) rings used
  Eigen::VectorXd arc_deg;              // (r) azimuth that the points of each cover
  Eigen::Index set_aside = 0;           // ring points left out as outliers
  double dependence = 1.0;              // factor on the covariance because neighbouring points err together
  std::string calibrant;                // name; empty for a bare list of spacings
  double calibrant_relative_u = 0.0;    // of d, and so of every q: NOT in the covariance, a coherent cause of its own
  std::vector<std::string> warnings;    // too few rings, too short an arc, ...
};

/// Refines `start` on the rings of `d_nm` (falling) seen in `counts`. Starts up to 5 % off in distance and 10 px off in
/// centre at once are inside the design; the beam point may lie outside the frame. `masked` may be empty; hot pixels,
/// dead areas and gaps without counts are found besides.
///
/// Method: a coarse search for the distance and centre at which the rings as a family stand out (ring_search.hpp), then
/// rounds of peak positions in narrow sectors of each ring (ring_points.hpp) and a robust fit (ring_fit.hpp). Roll is
/// kept. The tilt is refined from two rings on. The wavelength is taken as exact: an error of it is absorbed by the
/// distance, so that q of the rings stays right; d itself is not refined and its uncertainty not included.
/// InputError for an impossible start, list or mask; DataError when no ring is found; NumericalError when the fit does
/// not settle.
RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const DetectorGeometry& start,
                                const Eigen::VectorXd& d_nm, const RingOptions& options = {});

/// The same with a known calibrant, whose name and uncertainty travel with the result.
RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const DetectorGeometry& start,
                                const Calibrant& calibrant, const RingOptions& options = {});

/// Standard uncertainty of a refined parameter from the covariance; 0 for one that was kept. InputError for a name that
/// is no parameter of a geometry.
double standard_uncertainty(const RingCalibration& calibration, const std::string& parameter);

}  // namespace sievelight
