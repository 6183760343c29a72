// SPDX-License-Identifier: GPL-3.0-or-later
/// A camera with behenate rings whose geometry a test pretends not to know, and what harms real frames.
#pragma once

#include "geometry/synthetic_rings.hpp"
#include "sievelight/geometry/calibrant.hpp"
#include "sievelight/geometry/ring_guess.hpp"

namespace sievelight::testing_support {

/// Rings 40 px apart on 200 rows and 260 columns.
inline RingScenery camera(double x_px, double y_px, double distance_mm = 300.0) {
  RingScenery s{.truth = {.wavelength_nm = 0.154187,
                          .distance_mm = distance_mm,
                          .beam_center_x_px = x_px,
                          .beam_center_y_px = y_px,
                          .pixel_size_x_mm = 0.2,
                          .pixel_size_y_mm = 0.2},
                .rows = 200,
                .columns = 260};
  s.d_nm = calibrant("silver behenate").d_nm;
  s.sigma_per_nm = 0.04;
  return s;
}

inline RingKnowledge knowledge(const RingScenery& s) {
  RingKnowledge k;
  k.wavelength_nm = s.truth.wavelength_nm;
  k.pixel_size_x_mm = s.truth.pixel_size_x_mm;
  k.pixel_size_y_mm = s.truth.pixel_size_y_mm;
  return k;
}

/// A beamstop of that radius on an arm to the right that lets 2 % through, a little off the beam.
inline void add_beamstop(Image& expected, const RingScenery& s, double radius_px) {
  for (Eigen::Index y = 0; y < s.rows; ++y)
    for (Eigen::Index x = 0; x < s.columns; ++x) {
      const double dx = static_cast<double>(x) - s.truth.beam_center_x_px - 2.0,
                   dy = static_cast<double>(y) - s.truth.beam_center_y_px - 1.0;
      if (std::hypot(dx, dy) < radius_px || (dx > 0.0 && std::abs(dy) < 3.0)) expected(y, x) *= 0.02;
    }
}

/// Rings brighter in two opposite directions than across, as of a powder with texture.
inline void add_texture(Image& expected, const RingScenery& s, double share) {
  for (Eigen::Index y = 0; y < s.rows; ++y)
    for (Eigen::Index x = 0; x < s.columns; ++x) {
      const double turn = std::atan2(static_cast<double>(y) - s.truth.beam_center_y_px,
                                     static_cast<double>(x) - s.truth.beam_center_x_px);
      expected(y, x) = s.flat + (expected(y, x) - s.flat) * (1.0 + share * std::cos(2.0 * turn - 0.6));
    }
}

/// Gaps between modules, sixty hot pixels and a single crystal's spot.
inline void add_defects(Image& counts, std::uint32_t number) {
  counts.middleRows(counts.rows() / 3, 9).setZero();
  counts.middleCols(2 * counts.cols() / 3, 5).setZero();
  std::mt19937 random(number);
  for (int i = 0; i < 60; ++i) counts.data()[random() % static_cast<unsigned>(counts.size())] = 1e6;
  counts.block(counts.rows() / 5, counts.cols() / 2, 3, 4).setConstant(4000.0);
}

}  // namespace sievelight::testing_support
