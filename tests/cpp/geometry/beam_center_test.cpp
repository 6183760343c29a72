// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/beam_center.hpp"

#include "geometry/refusal.hpp"
#include "geometry/synthetic_rings.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::expect_refusal;
using testing_support::poisson;

/// A Gaussian spot, integrated over pixels, on a flat level.
Image spot(double x, double y, double sigma_x, double sigma_y, double counts, double flat) {
  Image image(80, 100);
  const auto part = [](double at, double center, double sigma) {
    return 0.5 * (std::erf((at + 0.5 - center) / (std::sqrt(2.0) * sigma)) -
                  std::erf((at - 0.5 - center) / (std::sqrt(2.0) * sigma)));
  };
  for (Eigen::Index row = 0; row < 80; ++row)
    for (Eigen::Index column = 0; column < 100; ++column)
      image(row, column) =
          flat + counts * part(static_cast<double>(column), x, sigma_x) * part(static_cast<double>(row), y, sigma_y);
  return image;
}

TEST(BeamCenter, IsTheCentroidOfTheSpot) {
  for (const double sigma : {0.4, 1.2, 3.0}) {
    const BeamCenter found = find_beam_center(spot(40.37, 31.82, sigma, 1.5 * sigma, 1e6, 3.0), Mask());
    // A window of three standard deviations cuts a few 1e-3 of the spot, whose lopsidedness pulls by less than this.
    EXPECT_NEAR(found.x_px, 40.37, 0.01);
    EXPECT_NEAR(found.y_px, 31.82, 0.01);
    EXPECT_NEAR(found.counts, 1e6, 0.02e6);
    EXPECT_NEAR(found.background, 3.0, 1.5);  // what the spot still has at three to four standard deviations
    EXPECT_TRUE(found.warnings.empty());
  }
}

// Property: pulls of a right u have an rms of 1 +- 1/sqrt(2 n); n = 200, four standard deviations. The centroid of a
// spot of n counts is known to sigma/sqrt(n) (textbook), a little worse with a background.
TEST(BeamCenter, StatesItsScatter) {
  const Image expected = spot(40.37, 31.82, 1.5, 1.5, 2000.0, 1.0);
  double sum2_x = 0.0, sum2_y = 0.0, u = 0.0;
  for (int i = 0; i < 200; ++i) {
    const BeamCenter found = find_beam_center(poisson(expected, i), Mask());
    sum2_x += std::pow((found.x_px - 40.37) / found.u_x_px, 2);
    sum2_y += std::pow((found.y_px - 31.82) / found.u_y_px, 2);
    u = found.u_x_px;
  }
  EXPECT_NEAR(std::sqrt(sum2_x / 200.0), 1.0, 4.0 / std::sqrt(400.0));
  EXPECT_NEAR(std::sqrt(sum2_y / 200.0), 1.0, 4.0 / std::sqrt(400.0));
  EXPECT_GT(u, 1.5 / std::sqrt(2000.0) * 0.9);
  EXPECT_LT(u, 1.5 / std::sqrt(2000.0) * 1.4);
}

TEST(BeamCenter, IsFoundThroughASemiTransparentBeamstopWhenToldWhere) {
  Image expected = spot(50.2, 40.7, 1.3, 1.3, 3000.0, 0.0);
  for (Eigen::Index y = 0; y < 80; ++y)
    for (Eigen::Index x = 0; x < 100; ++x) {
      const double r = std::hypot(static_cast<double>(x) - 51.0, static_cast<double>(y) - 40.0);
      expected(y, x) +=
          r < 12.0 ? 0.5 : 5000.0 * std::exp(-r / 6.0);  // scattering around the shadow, brighter than the spot
    }
  const BeamCenter found =
      find_beam_center(poisson(expected, 1), Mask(), {.near_px = std::pair{50.0, 40.0}, .search_px = 6.0});
  EXPECT_NEAR(found.x_px, 50.2, 4.0 * found.u_x_px);
  EXPECT_NEAR(found.y_px, 40.7, 4.0 * found.u_y_px);
  EXPECT_LT(found.u_x_px, 0.05);
}

TEST(BeamCenter, IsNotAHotPixel) {
  Image counts = poisson(spot(40.0, 30.0, 1.5, 1.5, 5000.0, 1.0), 2);
  counts(70, 90) = 1e6;
  EXPECT_NEAR(find_beam_center(counts, Mask()).x_px, 40.0, 0.2);
}

TEST(BeamCenter, IsRefusedWhereOnlyASinglePixelStandsOut) {
  Image counts = poisson(Image::Constant(80, 100, 20.0), 6);
  counts(40, 50) = 1e5;
  expect_refusal<DataError>([&] { find_beam_center(counts, Mask()); }, "no spot stands out", "direct beam");
}

TEST(BeamCenter, SaysWhenTheSpotIsCut) {
  const Image counts = poisson(spot(40.0, 30.0, 1.5, 1.5, 5000.0, 1.0), 3);
  Mask masked = Mask::Constant(80, 100, false);
  masked(31, 41) = true;
  ASSERT_FALSE(find_beam_center(counts, masked).warnings.empty());
  EXPECT_NE(find_beam_center(counts, masked).warnings[0].find("masked or hot"), std::string::npos);
  const auto at_edge = find_beam_center(poisson(spot(1.0, 30.0, 1.5, 1.5, 5000.0, 1.0), 4), Mask()).warnings;
  ASSERT_FALSE(at_edge.empty());
  EXPECT_NE(at_edge[0].find("edge of the frame"), std::string::npos);
}

TEST(BeamCenter, RefusesAFrameWithoutASpotAndAPlaceOutside) {
  expect_refusal<DataError>([] { find_beam_center(poisson(Image::Constant(80, 100, 20.0), 5), Mask()); },
                            "no spot stands out", "direct beam");
  expect_refusal<InputError>(
      [] {
        find_beam_center(Image::Zero(80, 100), Mask(), {.near_px = std::pair{120.0, 3.0}});
      },
      "(120, 3) lies outside", "inside the frame");
}

}  // namespace
}  // namespace sievelight
