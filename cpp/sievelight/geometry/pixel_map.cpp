// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/pixel_map.hpp"

#include "sievelight/base/arctangent.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {

namespace {

// What a row of pixels needs: its first pixel's place in mm, the step to the next one, and constants.
struct Row {
  double x0, y0, z0, step_x, step_y, step_z, first;
  double plane_mm, four_pi_over_lambda;
};

// Positions along the row first, for the azimuth.
SIEVELIGHT_EVERY_CPU void places(const Row& row, Eigen::Index n, double* x, double* y) {
  for (Eigen::Index i = 0; i < n; ++i) {
    const double along = static_cast<double>(i) + row.first;
    x[i] = row.x0 + row.step_x * along;
    y[i] = row.y0 + row.step_y * along;
  }
}

SIEVELIGHT_EVERY_CPU void fill_row(const Row& row, Eigen::Index n, const double* x, const double* y, double* q,
                                   double* cos_incidence) {
  for (Eigen::Index i = 0; i < n; ++i) {
    const double z = row.z0 + row.step_z * (static_cast<double>(i) + row.first);
    const double across2 = x[i] * x[i] + y[i] * y[i], length = std::sqrt(across2 + z * z);
    // sin^2(theta) = (1 - cos 2theta)/2 would cancel near the beam. Both forms below are the same number; each adds
    // terms of one sign on its side of 90 degrees.
    const double forward = 0.5 * (across2 / (length * (length + (z >= 0.0 ? z : 0.0))));
    const double backward = 0.5 * ((length - z) / length);
    const double sin2_theta = z >= 0.0 ? forward : backward;
    q[i] = row.four_pi_over_lambda * std::sqrt(sin2_theta);
    cos_incidence[i] = row.plane_mm / length;
  }
}

// The pixel nearest to the foot of the plane's normal, along an axis on which the beam's pixel is `center`.
Eigen::Index nearest(double center, double foot_mm, double pixel_mm, Eigen::Index n) {
  return static_cast<Eigen::Index>(
      std::clamp(std::round(center + foot_mm / pixel_mm), 0.0, static_cast<double>(n - 1)));
}

template <typename Function>
Image each_pixel(const Image& of, const Function& f) {
  Image out(of.rows(), of.cols());
  prefer_large_pages(out);
  parallel_for(static_cast<std::size_t>(of.rows()), [&](std::size_t row) {
    const auto r = static_cast<Eigen::Index>(row);
    out.row(r) = of.row(r).unaryExpr(f);
  });
  return out;
}

}  // namespace

Image PixelMap::solid_angle_sr() const {
  return each_pixel(cos_incidence, [this](double cosine) { return solid_angle_of(cosine, facing_sr); });
}

Image PixelMap::cos_two_theta() const {
  return each_pixel(q_per_nm, [this](double q) { return cos_of_q(q, wavelength_nm); });
}

PixelMap pixel_map(const DetectorGeometry& g, Eigen::Index rows, Eigen::Index columns) {
  check(g);
  if (rows < 1 || columns < 1)
    throw InputError(fmt::format("pixel map: {} rows and {} columns asked for", rows, columns),
                     "Give the shape of the frame, rows first.");
  PixelMap map;
  for (Image* image : {&map.q_per_nm, &map.azimuth_rad, &map.cos_incidence}) {
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
    const Row row{start.x(),           start.y(),  start.z(),
                  step_x.x(),          step_x.y(), step_x.z(),
                  -g.beam_center_x_px, plane_mm,   4.0 * pi / g.wavelength_nm};
    thread_local std::vector<double> across, up;
    across.resize(static_cast<std::size_t>(columns));
    up.resize(static_cast<std::size_t>(columns));
    places(row, columns, across.data(), up.data());
    const Eigen::Index first = y * columns;
    arctangents(up.data(), across.data(), columns, map.azimuth_rad.data() + first);
    fill_row(row, columns, across.data(), up.data(), map.q_per_nm.data() + first, map.cos_incidence.data() + first);
  });
  map.wavelength_nm = g.wavelength_nm;
  map.facing_sr = g.pixel_size_x_mm * g.pixel_size_y_mm / (plane_mm * plane_mm);
  const Eigen::Index x = nearest(g.beam_center_x_px, -g.distance_mm * turn(2, 0), g.pixel_size_x_mm, columns),
                     y = nearest(g.beam_center_y_px, -g.distance_mm * turn(2, 1), g.pixel_size_y_mm, rows);
  map.largest_solid_angle_sr = map.solid_angle_sr(y * columns + x);
  return map;
}

void require_polarisation(double horizontal_fraction) {
  if (!(horizontal_fraction >= 0.0 && horizontal_fraction <= 1.0))
    throw InputError(
        fmt::format("polarisation: the horizontal fraction is {}; it must lie in [0, 1]", horizontal_fraction),
        "Give 0.5 for an unpolarised (laboratory) source, close to 1 for a synchrotron's horizontal beam.");
}

void polarisation_of(const PixelMap& map, Eigen::Index first, Eigen::Index n, double fraction, double plane_rad,
                     double* out) {
  const double *q = map.q_per_nm.data() + first, *azimuth_rad = map.azimuth_rad.data() + first;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double cosine = cos_of_q(q[i], map.wavelength_nm), sin2 = 1.0 - cosine * cosine;
    // Without a preferred plane the azimuth does not matter.
    double share = 0.5;
    if (fraction != 0.5) {
      const double along = std::cos(azimuth_rad[i] - plane_rad), cos2 = along * along;
      share = fraction * cos2 + (1.0 - fraction) * (1.0 - cos2);
    }
    out[i] = 1.0 - sin2 * share;
  }
}

Image polarisation(const PixelMap& map, double horizontal_fraction, double plane_rad) {
  require_polarisation(horizontal_fraction);
  Image out(map.q_per_nm.rows(), map.q_per_nm.cols());
  parallel_for(static_cast<std::size_t>(out.rows()), [&](std::size_t row) {
    const Eigen::Index first = static_cast<Eigen::Index>(row) * out.cols();
    polarisation_of(map, first, out.cols(), horizontal_fraction, plane_rad, out.data() + first);
  });
  return out;
}

}  // namespace sievelight
