// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/sample_plane.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

using Eigen::Index;

DetectorGeometry with_sample_offset(const DetectorGeometry& geometry, double offset_mm) {
  if (!(std::isfinite(offset_mm) && offset_mm < geometry.distance_mm))
    throw InputError(fmt::format("sample offset of {} mm at a distance of {} mm", offset_mm, geometry.distance_mm),
                     "Give the offset towards the detector in mm; it is smaller than the distance.");
  DetectorGeometry moved = geometry;
  moved.distance_mm -= offset_mm;
  return moved;
}

double SamplePlaneOffsets::u_mm(Index position) const {
  if (position < 0 || position >= offset_mm.size())
    throw InputError(fmt::format("sample plane offsets: position {} of {}", position, offset_mm.size()),
                     "Positions count from 0.");
  return std::sqrt(covariance(position, position));
}

SamplePlaneOffsets sample_plane_offsets(const std::vector<RingCalibration>& positions, Index reference) {
  const Index n = std::ssize(positions);
  if (n < 2 || reference < 0 || reference >= n)
    throw InputError(fmt::format("sample plane offsets: {} calibrations with number {} as the reference", n, reference),
                     "Give the calibrations of two positions or more; the reference counts from 0.");
  const RingCalibration& base = positions[static_cast<std::size_t>(reference)];
  SamplePlaneOffsets out{Eigen::VectorXd(n), Eigen::MatrixXd::Zero(n, n), reference};
  for (Index i = 0; i < n; ++i) {
    const RingCalibration& c = positions[static_cast<std::size_t>(i)];
    const DetectorGeometry &a = base.geometry, &b = c.geometry;
    if (c.calibrant != base.calibrant || a.wavelength_nm != b.wavelength_nm || a.pixel_size_x_mm != b.pixel_size_x_mm ||
        a.pixel_size_y_mm != b.pixel_size_y_mm)
      throw InputError(
          fmt::format("sample plane offsets: calibration {} ('{}', {} nm, pixel {} mm) and the reference ('{}', {} nm, "
                      "pixel {} mm) do not belong together",
                      i, c.calibrant, b.wavelength_nm, b.pixel_size_x_mm, base.calibrant, a.wavelength_nm,
                      a.pixel_size_x_mm),
          "Measure one calibrant at every position with one wavelength and detector.");
    out.offset_mm[i] = a.distance_mm - b.distance_mm;
  }
  const double u_base = standard_uncertainty(base, "distance_mm");
  for (Index i = 0; i < n; ++i)
    for (Index j = 0; j < n; ++j) {
      if (i == reference || j == reference) continue;
      const double own = i == j ? standard_uncertainty(positions[static_cast<std::size_t>(i)], "distance_mm") : 0.0;
      out.covariance(i, j) =
          own * own + u_base * u_base +
          base.calibrant_relative_u * base.calibrant_relative_u * out.offset_mm[i] * out.offset_mm[j];
    }
  return out;
}

std::vector<GeometryComponent> geometry_components(const RingCalibration& calibration, double offset_mm,
                                                   double u_offset_mm, const std::string& position) {
  if (!(u_offset_mm >= 0.0 && std::isfinite(u_offset_mm)))
    throw InputError(fmt::format("sample offset of position '{}': its uncertainty is {} mm", position, u_offset_mm),
                     "Give one standard deviation in mm, 0 where it is not to be counted.");
  std::vector<GeometryComponent> components = geometry_components(calibration);
  for (GeometryComponent& c : components) c.shifted_plus = with_sample_offset(c.shifted_plus, offset_mm);
  if (u_offset_mm > 0.0)
    components.push_back(
        {fmt::format("sample plane {}", position), with_sample_offset(calibration.geometry, offset_mm + u_offset_mm)});
  return components;
}

}  // namespace sievelight
