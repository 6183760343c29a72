// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/pixel_map.hpp"

#include "sievelight/base/arctangent.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

namespace sievelight {

namespace {

// What a row of pixels needs: its first pixel's place in mm, the step to the next one, and constants.
struct Row {
  double x0, y0, z0, step_x, step_y, step_z, first;
  double plane_mm, area_mm2, four_pi_over_lambda;
};

struct RowOut {
  double *q, *cos_two_theta, *cos_incidence, *solid_angle;
};

// Positions along the row first, for the azimuth.
SIEVELIGHT_EVERY_CPU void places(const Row& row, Eigen::Index n, double* x, double* y) {
  for (Eigen::Index i = 0; i < n; ++i) {
    const double along = static_cast<double>(i) + row.first;
    x[i] = row.x0 + row.step_x * along;
    y[i] = row.y0 + row.step_y * along;
  }
}

SIEVELIGHT_EVERY_CPU void fill_row(const Row& row, Eigen::Index n, const double* x, const double* y,
                                   const RowOut& out) {
  for (Eigen::Index i = 0; i < n; ++i) {
    const double z = row.z0 + row.step_z * (static_cast<double>(i) + row.first);
    const double across2 = x[i] * x[i] + y[i] * y[i], length = std::sqrt(across2 + z * z), inverse = 1.0 / length;
    // sin^2(theta) = (1 - cos 2theta)/2 would cancel near the beam. Both forms below are the same number; each adds
    // terms of one sign on its side of 90 degrees.
    const double forward = 0.5 * (across2 / (length * (length + (z >= 0.0 ? z : 0.0))));
    const double backward = 0.5 * ((length - z) * inverse);
    const double sin2_theta = z >= 0.0 ? forward : backward;
    out.q[i] = row.four_pi_over_lambda * std::sqrt(sin2_theta);
    out.cos_two_theta[i] = z * inverse;
    out.cos_incidence[i] = row.plane_mm * inverse;
    out.solid_angle[i] = row.area_mm2 * row.plane_mm * (inverse * inverse * inverse);
  }
}

}  // namespace

PixelMap pixel_map(const DetectorGeometry& g, Eigen::Index rows, Eigen::Index columns) {
  check(g);
  if (rows < 1 || columns < 1)
    throw InputError(fmt::format("pixel map: {} rows and {} columns asked for", rows, columns),
                     "Give the shape of the frame, rows first.");
  PixelMap map;
  for (Image* image : {&map.q_per_nm, &map.azimuth_rad, &map.cos_two_theta, &map.cos_incidence, &map.solid_angle_sr}) {
    image->resize(rows, columns);
    prefer_large_pages(*image);
  }
  const Eigen::Matrix3d turn = rotation(g);
  const Eigen::Vector3d step_x = turn.col(0) * g.pixel_size_x_mm, step_y = turn.col(1) * g.pixel_size_y_mm;
  const double plane_mm = turn(2, 2) * g.distance_mm;  // distance from the sample to the plane, along its normal
  parallel_for(static_cast<std::size_t>(rows), [&](std::size_t at) {
    const auto y = static_cast<Eigen::Index>(at);
    const Eigen::Vector3d start =
        step_y * (static_cast<double>(y) - g.beam_center_y_px) + Eigen::Vector3d(0.0, 0.0, g.distance_mm);
    const Row row{start.x(),
                  start.y(),
                  start.z(),
                  step_x.x(),
                  step_x.y(),
                  step_x.z(),
                  -g.beam_center_x_px,
                  plane_mm,
                  g.pixel_size_x_mm * g.pixel_size_y_mm,
                  4.0 * pi / g.wavelength_nm};
    thread_local std::vector<double> across, up;
    across.resize(static_cast<std::size_t>(columns));
    up.resize(static_cast<std::size_t>(columns));
    places(row, columns, across.data(), up.data());
    const Eigen::Index first = y * columns;
    arctangents(up.data(), across.data(), columns, map.azimuth_rad.data() + first);
    fill_row(row, columns, across.data(), up.data(),
             {map.q_per_nm.data() + first, map.cos_two_theta.data() + first, map.cos_incidence.data() + first,
              map.solid_angle_sr.data() + first});
  });
  return map;
}

void require_polarisation(double horizontal_fraction) {
  if (!(horizontal_fraction >= 0.0 && horizontal_fraction <= 1.0))
    throw InputError(
        fmt::format("polarisation: the horizontal fraction is {}; it must lie in [0, 1]", horizontal_fraction),
        "Give 0.5 for an unpolarised (laboratory) source, close to 1 for a synchrotron's horizontal beam.");
}

void polarisation_of(const double* cos_two_theta, const double* azimuth_rad, Eigen::Index n, double fraction,
                     double plane_rad, double* out) {
  for (Eigen::Index i = 0; i < n; ++i) {
    const double sin2 = 1.0 - cos_two_theta[i] * cos_two_theta[i];
    // Without a preferred plane the azimuth does not matter.
    double share = 0.5;
    if (fraction != 0.5) {
      const double cosine = std::cos(azimuth_rad[i] - plane_rad), cos2 = cosine * cosine;
      share = fraction * cos2 + (1.0 - fraction) * (1.0 - cos2);
    }
    out[i] = 1.0 - sin2 * share;
  }
}

Image polarisation(const PixelMap& map, double horizontal_fraction, double plane_rad) {
  require_polarisation(horizontal_fraction);
  Image out(map.cos_two_theta.rows(), map.cos_two_theta.cols());
  parallel_for(static_cast<std::size_t>(out.rows()), [&](std::size_t row) {
    const Eigen::Index first = static_cast<Eigen::Index>(row) * out.cols();
    polarisation_of(map.cos_two_theta.data() + first, map.azimuth_rad.data() + first, out.cols(), horizontal_fraction,
                    plane_rad, out.data() + first);
  });
  return out;
}

}  // namespace sievelight
