// SPDX-License-Identifier: GPL-3.0-or-later
/// Samples that stand a little before or behind the plane of the calibration: positions of a changer.
#pragma once

#include "sievelight/geometry/calibrate.hpp"
#include "sievelight/geometry/components.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

/// The geometry of a sample that stands offset_mm nearer to the detector (negative: further away). The beam runs along
/// z, so that its point on the detector stays. InputError when the offset reaches the detector.
DetectorGeometry with_sample_offset(const DetectorGeometry& geometry, double offset_mm);

/// How far each of several calibrated positions stands nearer to the detector than the reference.
struct SamplePlaneOffsets {
  Eigen::VectorXd offset_mm;   // (n) 0 at the reference
  Eigen::MatrixXd covariance;  // (n, n) of them, mm^2; row and column 0 at the reference
  Eigen::Index reference = 0;
  double u_mm(Eigen::Index position) const;
};

/// offset_i = L_reference - L_i, from calibrations of one calibrant at each position on one detector. The covariance
/// holds each position's own variance, the reference's, which is common to all, and the spacing's: it scales all
/// distances alike, so that of an offset only the offset's own share of it is left. InputError with fewer than two
/// calibrations, another calibrant or another wavelength or pixel size among them, or no such reference.
SamplePlaneOffsets sample_plane_offsets(const std::vector<RingCalibration>& positions, Eigen::Index reference = 0);

/// Causes of error for a sample at an offset: those of the calibration, each geometry moved by the offset, under the
/// same ids, so that they still cancel between positions; and "sample plane <position>" for the offset's own u, if not
/// 0.
std::vector<GeometryComponent> geometry_components(const RingCalibration& calibration, double offset_mm,
                                                   double u_offset_mm, const std::string& position);

}  // namespace sievelight
