// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/components.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <cmath>
#include <map>

namespace sievelight {
namespace {

using Eigen::Index;

double& field(DetectorGeometry& g, const std::string& name) {
  static const std::map<std::string, double DetectorGeometry::*> fields{
      {"distance_mm", &DetectorGeometry::distance_mm},
      {"beam_center_x_px", &DetectorGeometry::beam_center_x_px},
      {"beam_center_y_px", &DetectorGeometry::beam_center_y_px},
      {"pitch_rad", &DetectorGeometry::pitch_rad},
      {"yaw_rad", &DetectorGeometry::yaw_rad},
      {"roll_rad", &DetectorGeometry::roll_rad}};
  const auto found = fields.find(name);
  if (found == fields.end())
    throw InputError(fmt::format("geometry components: '{}' is no parameter of a geometry", name),
                     "Take the calibration as calibrate_rings returned it.");
  return g.*found->second;
}

/// Pixels that a point on the mean radius moves per unit of the parameter.
double pixels_per_unit(const RingCalibration& c, const std::string& name) {
  const RingView view(c.geometry);
  double mean_radius_px = 0.0;
  for (Index i = 0; i < c.x_px.size(); ++i)
    mean_radius_px += view.radius_px(view.at(c.x_px[i], c.y_px[i]).two_theta_rad) / static_cast<double>(c.x_px.size());
  if (c.x_px.size() == 0) mean_radius_px = 100.0;
  if (name == "distance_mm") return mean_radius_px / c.geometry.distance_mm;
  // A tilt by t moves a point at radius r out of the plane by r t and so its ray's crossing by r t times r/L.
  if (name == "pitch_rad" || name == "yaw_rad")
    return mean_radius_px * mean_radius_px * view.pixel_mm() / c.geometry.distance_mm;
  return 1.0;
}

}  // namespace

std::vector<GeometryComponent> geometry_components(const RingCalibration& c, double calibrant_relative_u) {
  const Index p = std::ssize(c.parameters);
  if (c.covariance.rows() != p || c.covariance.cols() != p)
    throw InputError(fmt::format("geometry components: {} parameters with a covariance of {} by {}", p,
                                 c.covariance.rows(), c.covariance.cols()),
                     "Take the calibration as calibrate_rings returned it.");
  if (!(calibrant_relative_u >= 0.0 && calibrant_relative_u < 0.1))
    throw InputError(
        fmt::format("geometry components: relative uncertainty of the calibrant is {}", calibrant_relative_u),
        "Give one standard deviation relative to d, for instance 0.0005.");
  Eigen::VectorXd scale(p);
  for (Index i = 0; i < p; ++i) scale[i] = pixels_per_unit(c, c.parameters[static_cast<std::size_t>(i)]);
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(scale.asDiagonal() * c.covariance * scale.asDiagonal());
  std::vector<GeometryComponent> components;
  for (Index k = p - 1; k >= 0; --k) {  // the solver sorts rising
    const double variance = eigen.eigenvalues()[k];
    if (!(variance > 1e-14 * eigen.eigenvalues()[p - 1])) continue;
    Eigen::VectorXd direction = eigen.eigenvectors().col(k);
    Index largest = 0;
    direction.cwiseAbs().maxCoeff(&largest);
    if (direction[largest] < 0.0) direction = -direction;
    GeometryComponent component{fmt::format("geometry {}", components.size() + 1), c.geometry};
    for (Index i = 0; i < p; ++i)
      field(component.shifted_plus, c.parameters[static_cast<std::size_t>(i)]) +=
          std::sqrt(variance) * direction[i] / scale[i];
    components.push_back(component);
  }
  if (calibrant_relative_u > 0.0) {
    GeometryComponent component{"calibrant spacing", c.geometry};
    component.shifted_plus.distance_mm *= 1.0 + calibrant_relative_u;
    components.push_back(component);
  }
  return components;
}

std::vector<GeometryComponent> geometry_components(const RingCalibration& calibration) {
  return geometry_components(calibration, calibration.calibrant_relative_u);
}

}  // namespace sievelight
