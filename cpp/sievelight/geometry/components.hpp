// SPDX-License-Identifier: GPL-3.0-or-later
/// The uncertainty of a calibrated geometry as a few independent causes.
/// Distance, centre and tilt were fitted together and err together; the principal components of their covariance do
/// not.
#pragma once

#include "sievelight/geometry/calibrate.hpp"
#include "sievelight/geometry/detector.hpp"

#include <string>
#include <vector>

namespace sievelight {

/// One independent cause of error. The shift of any number f that follows from the geometry, for one standard
/// deviation of this cause, is f(shifted_plus) - f(geometry).
struct GeometryComponent {
  std::string id;                 // "geometry 1", "geometry 2", ...; "calibrant spacing"
  DetectorGeometry shifted_plus;  // the geometry moved by +1 standard deviation
};

/// Components of the covariance, the largest first, and last the calibrant's spacing (where its u is not zero): d
/// longer by u makes every distance longer and every q smaller by u (exact at small angles; at wide ones the rings' own
/// angles would share it out differently). The sum over the "geometry" components of shift shift^T is the covariance
/// exactly, whatever the units; which direction is called largest is judged by how far it moves a point on the
/// calibration's mean radius, in pixels. The sign is fixed by making the largest part positive.
std::vector<GeometryComponent> geometry_components(const RingCalibration& calibration, double calibrant_relative_u);
/// With the calibrant's own uncertainty.
std::vector<GeometryComponent> geometry_components(const RingCalibration& calibration);

}  // namespace sievelight
