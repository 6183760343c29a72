// SPDX-License-Identifier: GPL-3.0-or-later
/// Small made-up measurements for the tests of `reduce`.
#pragma once

#include "sievelight/base/error.hpp"
#include "sievelight/curve/curve.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/geometry/pixel_map.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <random>
#include <string>

namespace sievelight::synthetic {

inline DetectorGeometry small_detector() {
  DetectorGeometry g;
  g.wavelength_nm = 0.154;
  g.distance_mm = 400.0;
  g.beam_center_x_px = 31.3;
  g.beam_center_y_px = 27.8;
  g.pixel_size_x_mm = 0.5;
  g.pixel_size_y_mm = 0.5;
  return g;
}

/// Frame with E[N] = exposure * weight * intensity(q), without noise.
inline Frame expected_frame(const PixelMap& map, const Image& weight, double exposure_s,
                            const std::function<double(double)>& intensity) {
  Frame frame;
  frame.counts = exposure_s * weight * map.q_per_nm.unaryExpr(intensity);
  frame.masked = Mask::Constant(map.q_per_nm.rows(), map.q_per_nm.cols(), false);
  frame.exposure_s = exposure_s;
  return frame;
}

inline Frame poisson_frame(const Frame& expected, std::mt19937_64& random) {
  Frame out = expected;
  for (Eigen::Index i = 0; i < out.counts.size(); ++i)
    out.counts.data()[i] = static_cast<double>(std::poisson_distribution<long>(expected.counts.data()[i])(random));
  return out;
}

/// Curve of n bins in equal steps of ln q.
inline Curve curve_on_bins(const Eigen::VectorXd& edges, const std::function<double(double)>& intensity,
                           double relative_u) {
  const Eigen::Index n = edges.size() - 1;
  Curve c;
  c.q_low_per_nm = edges.head(n);
  c.q_high_per_nm = edges.tail(n);
  c.q_per_nm = 0.5 * (c.q_low_per_nm + c.q_high_per_nm);
  c.intensity = c.q_per_nm.unaryExpr(intensity);
  c.private_u = relative_u * c.intensity.cwiseAbs();
  return c;
}

/// The message of the error that `call` raises; fails the test when it raises none of that type.
template <typename E, typename Call>
std::string message(Call&& call) {
  try {
    call();
  } catch (const E& error) {
    return error.what();
  } catch (const std::exception& other) {
    ADD_FAILURE() << "another error: " << other.what();
    return {};
  }
  ADD_FAILURE() << "nothing was refused";
  return {};
}

#define EXPECT_HOLDS(text, part) EXPECT_NE((text).find(part), std::string::npos) << (text)

}  // namespace sievelight::synthetic
