// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/center_guess.hpp"

#include "geometry/unknown_camera.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using testing_support::camera;
using testing_support::poisson;
using testing_support::RingScenery;

CenterGuess best(const RingScenery& s, const Image& counts, CenterGuessOptions options = {}) {
  options.aspect = s.truth.pixel_size_y_mm / s.truth.pixel_size_x_mm;
  const auto guesses = guess_centers(make_blocks(counts, unusable_pixels(counts, Mask())), options);
  return guesses.empty() ? CenterGuess{-1e6, -1e6, 0.0} : guesses.front();
}

// The calibration that follows searches 12 px in column and row: half of that is asked for.
TEST(CenterGuess, ComesWithinReachInsideTheFrameInACornerAndOutside) {
  for (const auto& [x, y] : {std::pair{150.2, 110.7}, {2.0, 3.0}, {-80.0, 120.0}, {-60.0, -70.0}, {160.0, 330.0}}) {
    const RingScenery s = camera(x, y);
    const CenterGuess found = best(s, poisson(expected_rings(s), 1));
    EXPECT_LT(std::hypot(found.x_px - x, found.y_px - y), 6.0)
        << x << ", " << y << " " << found.x_px << ", " << found.y_px;
  }
}

TEST(CenterGuess, IsFoundInOblongPixelsAndInTheFallOffAlone) {
  RingScenery s = camera(140.0, 90.0);
  s.truth.pixel_size_y_mm = 0.3;
  const CenterGuess oblong = best(s, poisson(expected_rings(s), 2));
  EXPECT_LT(std::hypot(oblong.x_px - 140.0, oblong.y_px - 90.0), 3.0);
  RingScenery bare = camera(140.0, 90.0);
  bare.amplitude = 0.0;
  bare.parasitic = 50.0;
  const CenterGuess fall = best(bare, poisson(expected_rings(bare), 3));
  EXPECT_LT(std::hypot(fall.x_px - 140.0, fall.y_px - 90.0), 6.0);
}

TEST(CenterGuess, IsAbsentWhereNothingStandsOut) {
  const Image flat = poisson(Image::Constant(200, 260, 10.0), 4);
  EXPECT_TRUE(guess_centers(make_blocks(flat, unusable_pixels(flat, Mask()))).empty());
}

TEST(CenterGuess, StaysNearAKnownPlace) {
  const RingScenery s = camera(150.2, 110.7);
  CenterGuessOptions options;
  options.near_px = std::pair{158.0, 104.0};
  const CenterGuess found = best(s, poisson(expected_rings(s), 5), options);
  EXPECT_LT(std::hypot(found.x_px - 150.2, found.y_px - 110.7), 2.0);
}

}  // namespace
}  // namespace sievelight
