// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_points.hpp"

#include "geometry/synthetic_rings.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <gsl/gsl_sf_bessel.h>
#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::RingScenery;

RingScenery scenery() {
  return {.truth = {.wavelength_nm = 0.154187,
                    .distance_mm = 300.0,
                    .beam_center_x_px = 140.3,
                    .beam_center_y_px = 110.6,
                    .pixel_size_x_mm = 0.2,
                    .pixel_size_y_mm = 0.2},
          .rows = 220,
          .columns = 280,
          .d_nm = Eigen::Vector3d(5.838, 2.919, 1.946),
          .sigma_per_nm = 0.03,
          .parasitic = 5.0};
}

std::vector<RingWindow> windows(const RingScenery& s) {
  std::vector<RingWindow> w;
  for (int k = 0; k < s.d_nm.size(); ++k)
    w.push_back({k + 1, 2.0 * std::asin(s.truth.wavelength_nm / (2.0 * s.d_nm[k])), 10.0, 0.0});
  return w;
}

double worst_offset(const std::vector<RingPoint>& points, const DetectorGeometry& truth,
                    const std::vector<RingWindow>& w) {
  const RingView view(truth);
  double worst = 0.0;
  for (const RingPoint& p : points)
    worst = std::max(worst, std::abs(view.at(p.x_px, p.y_px).offset_px(w[p.order - 1].two_theta_rad)));
  return worst;
}

TEST(RingPoints, LieOnTheRingsEvenFromAGeometryThatIsOff) {
  const RingScenery s = scenery();
  const Image counts = expected_rings(s);
  const Mask none = Mask::Constant(s.rows, s.columns, false);
  DetectorGeometry off = s.truth;
  off.beam_center_x_px += 1.0;
  off.distance_mm *= 1.01;
  const auto points = find_ring_points(counts, none, off, windows(s));
  EXPECT_GT(points.size(), 80u);
  // Without noise what is left is the Gaussian in q being a little skew on the detector, its own sigma^2/(2 L) and
  // less.
  EXPECT_LT(worst_offset(points, s.truth, windows(s)), 0.03);
}

TEST(RingPoints, KeepAwayFromMaskedPixels) {
  const RingScenery s = scenery();
  Image counts = testing_support::poisson(expected_rings(s), 1);
  Mask masked = Mask::Constant(s.rows, s.columns, false);
  masked.block(0, 140, 110, 140).setConstant(true);  // a quadrant
  counts.block(0, 140, 110, 140).setConstant(1e6);
  const auto points = find_ring_points(counts, masked, s.truth, windows(s));
  EXPECT_GT(points.size(), 50u);
  for (const RingPoint& p : points) EXPECT_FALSE(p.x_px > 142.0 && p.y_px < 108.0) << p.x_px << " " << p.y_px;
  EXPECT_LT(worst_offset(points, s.truth, windows(s)), 0.5);
}

TEST(RingPoints, AreNotFoundInNoise) {
  const RingScenery s = scenery();
  const Mask none = Mask::Constant(s.rows, s.columns, false);
  EXPECT_TRUE(
      find_ring_points(testing_support::poisson(Image::Constant(s.rows, s.columns, 8.0), 2), none, s.truth, windows(s))
          .empty());
}

// Textbook result: a circle of radius R blurred by a round Gaussian of width b has the profile
// exp(-(r^2 + R^2)/(2 b^2)) I0(r R/b^2) (S. O. Rice, Bell Syst. Tech. J. 24 (1945) 46), whose crest lies b^2/(2R)
// inside R.
TEST(RingPoints, UndoTheInwardShiftByARoundBeam) {
  RingScenery s = scenery();
  s.d_nm = Eigen::VectorXd::Constant(1, 14.0);
  const double ring = 2.0 * std::asin(s.truth.wavelength_nm / 28.0);
  const double radius = RingView(s.truth).radius_px(ring), blur = 3.0;
  ASSERT_NEAR(radius, 16.5, 0.1);
  Image counts(s.rows, s.columns);
  for (Eigen::Index y = 0; y < s.rows; ++y)
    for (Eigen::Index x = 0; x < s.columns; ++x) {
      const double r = std::hypot(static_cast<double>(x) - 140.3, static_cast<double>(y) - 110.6);
      counts(y, x) = 1.0 + 1e4 * std::exp(-0.5 * std::pow((r - radius) / blur, 2)) *
                               gsl_sf_bessel_I0_scaled(r * radius / (blur * blur)) /
                               gsl_sf_bessel_I0_scaled(radius * radius / 9.0);
    }
  const Mask none = Mask::Constant(s.rows, s.columns, false);
  const std::vector<RingWindow> window{{1, ring, 9.0, 3.0}};
  const auto mean_offset = [&](double beam_sigma) {
    double sum = 0.0;
    const auto points = find_ring_points(counts, none, s.truth, window, beam_sigma);
    for (const RingPoint& p : points) sum += RingView(s.truth).at(p.x_px, p.y_px).offset_px(ring);
    EXPECT_GT(points.size(), 5u);
    return sum / static_cast<double>(points.size());
  };
  const double shift = blur * blur / (2.0 * radius);  // 0.27 px; the next order is (b/R)^2 = 3 % of it, and a Gaussian
  EXPECT_NEAR(mean_offset(0.0), -shift, 0.15 * shift);  // fitted to a skew crest takes some more
  EXPECT_NEAR(mean_offset(blur), 0.0, 0.15 * shift);
}

}  // namespace
}  // namespace sievelight
