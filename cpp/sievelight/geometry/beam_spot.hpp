// SPDX-License-Identifier: GPL-3.0-or-later
/// The direct beam's counts inside a circle, its centre and its size: what a transmission and the resolution rest on.
#pragma once

#include "sievelight/base/image.hpp"

#include <Eigen/Core>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace sievelight {

struct BeamSpotOptions {
  double radius_px = 0.0;                            // of the circle summed; 0 = four times the spot's width
  double gap_px = 2.0;                               // from the circle to the annulus that gives the background
  double annulus_px = 4.0;                           // width of that annulus
  std::optional<std::pair<double, double>> near_px;  // as find_beam_center
  double search_px = 20.0;
  double saturation_value = 0.0;  // counts at or above it are no counts; 0 = not known
};

struct BeamSpot {
  double counts = 0.0, u_counts = 0.0;          // inside the circle above the background
  double background = 0.0;                      // counts per pixel in the annulus
  double radius_px = 0.0;                       // of the circle
  double x_px = 0.0, y_px = 0.0;                // centroid: column, row
  Eigen::Matrix2d covariance_px2;               // of the centroid
  double fwhm_x_px = 0.0, fwhm_y_px = 0.0;      // 2.3548 standard deviations of the beam, the pixel's own taken off
  double u_fwhm_x_px = 0.0, u_fwhm_y_px = 0.0;  // from the counts
  std::vector<std::string> warnings;
};

/// find_beam_center, then sums in a circle about it. All from Poisson counts n_i less the annulus's mean b of m pixels:
/// counts = sum n_i - N b, variance sum n_i + N^2 b/m; the centroid's covariance sum d d^T n_i / counts^2 with d from
/// the centroid; FWHM = 2.3548 sqrt(second moment - 1/12), which is that of the Gaussian of equal variance, as a
/// resolution asks for (a pixel's own variance is 1/12); its u from the moment's variance sum (d^2 - moment)^2 n_i /
/// counts^2. Behind a semi-transparent beamstop circle and annulus must stay inside its shadow: name radius_px.
/// DataError when a saturated or masked pixel lies in the spot's core (within its half width at half maximum): the sum
/// would be low; when the annulus holds fewer than eight usable pixels; and what find_beam_center raises.
BeamSpot beam_spot(const Image& counts, const Mask& masked, const BeamSpotOptions& options = {});

}  // namespace sievelight
