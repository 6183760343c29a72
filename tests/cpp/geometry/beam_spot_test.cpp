// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/beam_spot.hpp"

#include "geometry/refusal.hpp"
#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::expect_refusal;
using testing_support::poisson;

/// A Gaussian beam, integrated over pixels, on a flat level.
Image beam(double sigma_x, double sigma_y, double counts, double flat) {
  Image image(80, 100);
  const auto part = [](double at, double center, double sigma) {
    return 0.5 * (std::erf((at + 0.5 - center) / (std::sqrt(2.0) * sigma)) -
                  std::erf((at - 0.5 - center) / (std::sqrt(2.0) * sigma)));
  };
  for (Eigen::Index y = 0; y < 80; ++y)
    for (Eigen::Index x = 0; x < 100; ++x)
      image(y, x) =
          flat + counts * part(static_cast<double>(x), 50.2, sigma_x) * part(static_cast<double>(y), 40.7, sigma_y);
  return image;
}

// Closed forms: all counts of the Gaussian but exp(-r^2/(2 s^2)) lie inside r; FWHM = 2.3548 s.
TEST(BeamSpot, SumsTheBeamAndKnowsItsSize) {
  BeamSpotOptions options;
  options.radius_px = 9.0;
  const BeamSpot s = beam_spot(beam(1.5, 2.0, 1e6, 3.0), Mask(), options);
  EXPECT_NEAR(s.counts, 1e6, 100.0);
  EXPECT_NEAR(s.background, 3.0, 0.01);
  EXPECT_NEAR(s.x_px, 50.2, 1e-3);
  EXPECT_NEAR(s.y_px, 40.7, 1e-3);
  EXPECT_NEAR(s.fwhm_x_px, 2.3548 * 1.5, 0.01);
  EXPECT_NEAR(s.fwhm_y_px, 2.3548 * 2.0, 0.01);
  EXPECT_NEAR(s.u_counts, 1e3, 10.0);
  EXPECT_TRUE(s.warnings.empty());
}

// Property: pulls of a right u have mean 0 +- 1/sqrt(n) and rms 1 +- 1/sqrt(2 n); n = 200, four standard deviations.
TEST(BeamSpot, StatesItsScatter) {
  const Image expected = beam(1.5, 1.5, 5000.0, 2.0);
  BeamSpotOptions options;
  options.radius_px = 8.0;
  Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(4), sum2 = sum;
  for (int i = 0; i < 200; ++i) {
    const BeamSpot s = beam_spot(poisson(expected, i), Mask(), options);
    Eigen::ArrayXd pull(4);
    pull << (s.counts - 5000.0) / s.u_counts, (s.x_px - 50.2) / std::sqrt(s.covariance_px2(0, 0)),
        (s.y_px - 40.7) / std::sqrt(s.covariance_px2(1, 1)), (s.fwhm_x_px - 2.35482 * 1.5) / s.u_fwhm_x_px;
    sum += pull;
    sum2 += pull.square();
  }
  for (int p = 0; p < 4; ++p) {
    EXPECT_NEAR(sum[p] / 200.0, 0.0, 4.0 / std::sqrt(200.0)) << p;
    EXPECT_NEAR(std::sqrt(sum2[p] / 200.0), 1.0, 4.0 / std::sqrt(400.0)) << p;
  }
}

TEST(BeamSpot, IsMeasuredInTheShadowOfASemiTransparentBeamstop) {
  Image expected = beam(1.3, 1.3, 3000.0, 0.0);
  for (Eigen::Index y = 0; y < 80; ++y)
    for (Eigen::Index x = 0; x < 100; ++x) {
      const double r = std::hypot(static_cast<double>(x) - 51.0, static_cast<double>(y) - 40.0);
      expected(y, x) += r < 12.0 ? 0.5 : 5000.0 * std::exp(-r / 6.0);
    }
  BeamSpotOptions options;
  options.near_px = std::pair{50.0, 40.0};
  options.search_px = 6.0;
  options.radius_px = 5.0;
  options.gap_px = 1.0;
  options.annulus_px = 4.0;
  const BeamSpot s = beam_spot(poisson(expected, 1), Mask(), options);
  EXPECT_NEAR(s.counts, 3000.0, 4.0 * s.u_counts);
  EXPECT_NEAR(s.x_px, 50.2, 4.0 * std::sqrt(s.covariance_px2(0, 0)));
}

TEST(BeamSpot, RefusesASaturatedOrMaskedCore) {
  Image counts = beam(1.5, 1.5, 1e6, 1.0);
  BeamSpotOptions options;
  options.saturation_value = 50000.0;
  expect_refusal<DataError>([&] { beam_spot(counts, Mask(), options); }, "saturated or masked", "attenuator");
  Mask masked = Mask::Constant(80, 100, false);
  masked(41, 50) = true;
  expect_refusal<DataError>([&] { beam_spot(counts, masked, {}); }, "saturated or masked", "interlocked");
}

TEST(BeamSpot, SaysWhenTheCircleDoesNotFit) {
  BeamSpotOptions small;
  small.radius_px = 3.0;
  const BeamSpot s = beam_spot(beam(1.5, 1.5, 1e6, 1.0), Mask(), small);
  ASSERT_FALSE(s.warnings.empty());
  EXPECT_NE(s.warnings[0].find("narrower than three times"), std::string::npos);
  BeamSpotOptions wrong;
  wrong.annulus_px = 0.0;
  expect_refusal<InputError>([&] { beam_spot(beam(1.5, 1.5, 1e6, 1.0), Mask(), wrong); }, "annulus_px 0", "above 0");
}

}  // namespace
}  // namespace sievelight
