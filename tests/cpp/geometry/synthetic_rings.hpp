// SPDX-License-Identifier: GPL-3.0-or-later
/// Frames of powder rings with known truth: Gaussian rings on a flat and a parasitic q^-4 background, Poisson counts.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/detector.hpp"

#include <Eigen/Core>
#include <cmath>
#include <cstdint>
#include <random>

namespace sievelight::testing_support {

struct RingScenery {
  DetectorGeometry truth;
  Eigen::Index rows = 500, columns = 600;
  Eigen::VectorXd d_nm{};
  double amplitude = 100.0;     // counts per pixel on the crest of the first ring
  double fading = 0.7;          // of each ring relative to the one before
  double sigma_per_nm = 0.015;  // width of the rings in q
  double flat = 5.0;            // counts per pixel
  double parasitic = 0.0;       // counts per pixel at q = 1/nm of a background that goes as q^-4
};

/// Expected counts, averaged over 3 by 3 places in each pixel.
inline Image expected_rings(const RingScenery& s) {
  Image image(s.rows, s.columns);
  const Eigen::VectorXd q_ring = 2.0 * pi * s.d_nm.cwiseInverse();
  for (Eigen::Index y = 0; y < s.rows; ++y)
    for (Eigen::Index x = 0; x < s.columns; ++x) {
      double sum = 0.0;
      for (int i = 0; i < 9; ++i) {
        const double q =
            q_per_nm(s.truth, static_cast<double>(x) + (i % 3 - 1) / 3.0, static_cast<double>(y) + (i / 3 - 1) / 3.0);
        sum += s.flat + s.parasitic / std::pow(std::max(q, 0.1), 4);
        double height = s.amplitude;
        for (const double ring : q_ring) {
          const double t = (q - ring) / s.sigma_per_nm;
          if (std::abs(t) < 8.0) sum += height * std::exp(-0.5 * t * t);
          height *= s.fading;
        }
      }
      image(y, x) = sum / 9.0;
    }
  return image;
}

inline Image poisson(const Image& expected, std::uint32_t number) {
  std::mt19937 random(number);
  Image counts(expected.rows(), expected.cols());
  for (Eigen::Index i = 0; i < expected.size(); ++i)
    counts.data()[i] = static_cast<double>(std::poisson_distribution<long>(expected.data()[i])(random));
  return counts;
}

}  // namespace sievelight::testing_support
