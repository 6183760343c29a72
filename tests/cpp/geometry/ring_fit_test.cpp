// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_fit.hpp"

#include "geometry/refusal.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <random>

namespace sievelight {
namespace {

using testing_support::expect_refusal;

const Eigen::Vector3d angles(0.05, 0.10, 0.15);

DetectorGeometry truth() {
  return {.wavelength_nm = 0.154187,
          .distance_mm = 300.0,
          .beam_center_x_px = 200.0,
          .beam_center_y_px = 180.0,
          .pixel_size_x_mm = 0.1,
          .pixel_size_y_mm = 0.1};
}

/// `n` points a ring, spread over the full turn, moved outwards by error(i).
std::vector<RingPoint> points(const DetectorGeometry& g, int rings, int n, const std::function<double(int)>& error) {
  const RingView view(g);
  std::vector<RingPoint> out;
  for (int k = 0; k < rings; ++k)
    for (int i = 0; i < n; ++i) {
      const double azimuth = -pi + (i + 0.5) * 2.0 * pi / n;
      double x = g.beam_center_x_px + view.radius_px(angles[k]) * std::cos(azimuth),
             y = g.beam_center_y_px + view.radius_px(angles[k]) * std::sin(azimuth);
      const double wanted = error(i);
      for (int step = 0; step < 20; ++step) {
        const RingSight s = view.at(x, y);
        const double move = wanted - s.offset_px(angles[k]);
        x += move * s.step_x;
        y += move * s.step_y;
      }
      out.push_back({.order = k + 1,
                     .x_px = x,
                     .y_px = y,
                     .u_px = 0.01,
                     .sigma_px = 2.0,
                     .azimuth_rad = azimuth,
                     .sector_rad = 2.0 * pi / n});
    }
  return out;
}

DetectorGeometry off() {
  DetectorGeometry g = truth();
  g.distance_mm *= 1.03;
  g.beam_center_x_px += 5.0;
  g.beam_center_y_px -= 4.0;
  return g;
}

TEST(RingFit, RecoversATiltedDetectorExactlyWithoutNoise) {
  DetectorGeometry g = truth();
  g.pitch_rad = radians(6.0);
  g.yaw_rad = radians(-4.0);
  const RingFit fit = fit_rings(points(g, 3, 60, [](int) { return 0.0; }), angles, off(), true);
  EXPECT_NEAR(fit.geometry.distance_mm, 300.0, 1e-5);
  EXPECT_NEAR(fit.geometry.beam_center_x_px, 200.0, 1e-5);
  EXPECT_NEAR(fit.geometry.pitch_rad, g.pitch_rad, 1e-7);
  EXPECT_NEAR(fit.geometry.yaw_rad, g.yaw_rad, 1e-7);
  EXPECT_LT(fit.rms_px, 1e-6);
}

// Textbook result for m points evenly around one circle of radius R, each with the error s along the radius: the radius
// is known to s/sqrt(m), each coordinate of the centre to s sqrt(2/m), all uncorrelated (normal equations of
// dr = dR + dx cos + dy sin). Distance = radius times L/R. s itself is known to 1/sqrt(2 m) = 3.5 %; four of them: 14
// %.
TEST(RingFit, StatesTheUncertaintyOfTheTextbookCircle) {
  std::mt19937 random(3);
  std::normal_distribution<double> normal(0.0, 0.1);
  const int m = 400;
  const RingFit fit = fit_rings(points(truth(), 1, m, [&](int) { return normal(random); }), angles, off(), false);
  const double radius = RingView(truth()).radius_px(angles[0]);
  EXPECT_NEAR(std::sqrt(fit.covariance(0, 0)), 300.0 / radius * 0.1 / std::sqrt(m), 0.14 * 300.0 / radius * 0.1 / 20.0);
  EXPECT_NEAR(std::sqrt(fit.covariance(1, 1)), 0.1 * std::sqrt(2.0 / m), 0.14 * 0.1 * std::sqrt(2.0 / m));
  EXPECT_NEAR(fit.covariance(0, 1) / std::sqrt(fit.covariance(0, 0) * fit.covariance(1, 1)), 0.0, 0.01);
  EXPECT_EQ(fit.dependence, 1.0);
}

TEST(RingFit, IsNotPulledByAFifthOfThePointsBeingWrong) {
  std::mt19937 random(4);
  std::normal_distribution<double> normal(0.0, 0.05);
  const RingFit fit = fit_rings(
      points(truth(), 3, 100, [&](int i) { return normal(random) + (i % 5 == 0 ? 4.0 : 0.0); }), angles, off(), false);
  EXPECT_NEAR(fit.geometry.distance_mm, 300.0, 4.0 * std::sqrt(fit.covariance(0, 0)));
  EXPECT_LT(std::sqrt(fit.covariance(0, 0)), 0.02);
  EXPECT_EQ(std::ranges::count(fit.used, false), 60);
}

// Errors with a lag-one correlation r (first-order autoregression) count as if there were (1 + r)/(1 - r) times fewer
// (Bayley, Hammersley 1946). r = 0.6: 4; the estimate of r from 900 pairs is good to 0.03, so the factor to 15 %.
TEST(RingFit, CountsNeighboursThatErrTogetherAsFewer) {
  std::mt19937 random(5);
  std::normal_distribution<double> normal(0.0, 0.1);
  double last = 0.0;
  const RingFit fit = fit_rings(points(truth(), 3, 300, [&](int) { return last = 0.6 * last + 0.8 * normal(random); }),
                                angles, off(), false);
  EXPECT_NEAR(fit.dependence, 4.0, 1.2);
}

TEST(RingFit, RefusesTooFewPoints) {
  expect_refusal<DataError>([] { fit_rings(points(truth(), 1, 5, [](int) { return 0.0; }), angles, off(), false); },
                            "5 ring points for 3 parameters", "longer exposure");
}

}  // namespace
}  // namespace sievelight
