// SPDX-License-Identifier: GPL-3.0-or-later
/// Errors of the calibration as coherent causes of a curve.
/// A calibration that is off by one standard deviation moves every pixel's q, so the reported curve slides along q:
/// u_b = -(dI/dq) Delta q_b, Delta q_b the mean over the bin's pixels of q_shifted - q. dI/dq comes from a smooth local
/// fit, or the curve's noise would become noise of u.
/// Sign: how the reported curve moves when the parameter used moves by +1 standard deviation; the same for all curves.
/// The solid angle moves too (2 Delta L / L); a standard measured in the same geometry cancels that, so it is an
/// option. Start at geometry_shift() once per cause and geometry, then add_geometry_causes() for every curve. Source:
/// JCGM 100:2008 (GUM) 5.1.3, sensitivity coefficients.
#pragma once

#include "sievelight/curve/curve.hpp"
#include "sievelight/geometry/detector.hpp"
#include "sievelight/reduce/bins.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

/// One component of the calibration's error, moved by +1 standard deviation, as the bins see it.
struct GeometryShift {
  std::string id;
  Eigen::VectorXd edges_per_nm;          // (bins + 1)
  Eigen::VectorXd delta_q_per_nm;        // (bins) mean of q_shifted - q
  Eigen::VectorXd relative_solid_angle;  // (bins) mean of DeltaOmega_shifted / DeltaOmega - 1
};

/// `base` is the geometry that `table` was made with. InputError when the shifted geometry is impossible.
GeometryShift geometry_shift(const std::string& id, const BinTable& table, const DetectorGeometry& base,
                             const DetectorGeometry& shifted);

struct GeometryCauseOptions {
  bool solid_angle = false;  // true when no standard measured in this geometry gives the absolute scale
  int half_width = 5;        // bins on each side of the local fit
};

/// The curve with one coherent cause per shift; a cause of the same id is added to, with sign.
/// InputError when the curve's bins are not bins of the shift.
Curve add_geometry_causes(const Curve& curve, const std::vector<GeometryShift>& shifts,
                          const GeometryCauseOptions& options = {});

/// The coherent cause "wavelength": q ~ 1/lambda at fixed angles, so u = (dI/dq) q u(lambda)/lambda. Where rings gave
/// the distance, the ring fit has the wavelength in it already: its components carry that error, not this one.
Curve add_wavelength_cause(const Curve& curve, double relative_u, int half_width = 5);

}  // namespace sievelight
