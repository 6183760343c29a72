// SPDX-License-Identifier: GPL-3.0-or-later
/// Distance, beam centre and tilt from points on rings: robust least squares of the distances along the radius.
#pragma once

#include "sievelight/geometry/ring_points.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

struct RingFit {
  DetectorGeometry geometry;
  std::vector<std::string>
      parameters;                // (p) "distance_mm", "beam_center_x_px", "beam_center_y_px"[, "pitch_rad", "yaw_rad"]
  Eigen::MatrixXd covariance;    // (p, p), from the scatter of the points about their rings
  Eigen::VectorXd residuals_px;  // of all points given, signed, outwards
  std::vector<bool> used;        // false = set aside as an outlier
  double rms_px = 0.0;           // of the points used
  double chi2 = 0.0;             // weighted sum of squares, in units of the points' own scatter
  double dependence = 1.0;       // factor on the covariance for neighbours that err together
};

/// two_theta_rad[order - 1] is the angle of a point's ring.
/// A point weighs 1/(u^2 + s^2) with its own u from the counts and a common scatter s found from the residuals. Tukey's
/// bisquare weights (Beaton, Tukey, Technometrics 16 (1974) 147), started from Huber's, find the fit; points beyond 4.5
/// robust standard deviations are then set aside and the rest fitted by plain least squares, so that the covariance is
/// the textbook one. It is multiplied by (1 + r)/(1 - r) where neighbours on a ring are correlated by r: m points that
/// err together are fewer than m (G. V. Bayley, J. M. Hammersley, Suppl. J. R. Stat. Soc. 8 (1946) 184).
/// DataError with fewer points than parameters and three more; NumericalError when the fit does not settle.
RingFit fit_rings(const std::vector<RingPoint>& points, const Eigen::VectorXd& two_theta_rad,
                  const DetectorGeometry& start, bool tilt);

}  // namespace sievelight
