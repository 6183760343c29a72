// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_guess.hpp"

#include "geometry/unknown_camera.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using namespace testing_support;

RingGuess guess(const RingScenery& s, const Image& counts) {
  return guess_rings(counts, unusable_pixels(counts, Mask()), knowledge(s),
                     ring_two_theta_rad(calibrant("silver behenate").d_nm, s.truth.wavelength_nm));
}

TEST(RingGuess, NamesTheTrueDistanceFirst) {
  for (const double distance : {200.0, 300.0, 450.0}) {
    const RingScenery s = camera(150.2, 110.7, distance);
    const RingGuess g = guess(s, poisson(expected_rings(s), 1));
    ASSERT_FALSE(g.explanations.empty());
    EXPECT_NEAR(g.explanations[0].geometry.distance_mm / distance, 1.0, 0.01);
    for (std::size_t i = 1; i < g.explanations.size(); ++i)
      EXPECT_GT(g.explanations[0].log_gain, g.explanations[i].log_gain + 3.0);
    EXPECT_LT(g.other_gain, g.explanations[0].log_gain - 3.0);
  }
}

TEST(RingGuess, FindsNoRingInASingleCrystalSpotOrAnArmsEdge) {
  RingScenery s = camera(150.2, 110.7);
  s.amplitude = 0.0;
  s.parasitic = 20.0;
  Image expected = expected_rings(s);
  for (Eigen::Index x = 152; x < s.columns; ++x)
    for (Eigen::Index y = 105; y < 116; ++y) expected(y, x) *= 0.02;
  expected.block(40, 60, 4, 4).setConstant(5000.0);
  for (const LinePeak& p :
       ring_like_peaks(polar_profile(poisson(expected, 2), Mask::Constant(200, 260, false), s.truth)))
    EXPECT_LT(p.position_px, 30.0);  // nothing but, at most, what stands beside the beam itself
}

TEST(RingGuess, SeesHexagonallyOrderedPoresForWhatTheyAre) {
  RingScenery s = camera(150.2, 110.7);
  s.d_nm = 6.0 / Eigen::ArrayXd{{1.0, std::sqrt(3.0), 2.0, std::sqrt(7.0)}};
  s.fading = 0.6;
  const RingGuess g = guess(s, poisson(expected_rings(s), 3));
  EXPECT_NE(g.other.find("hexagonally"), std::string::npos);
  EXPECT_GT(g.other_gain, g.explanations.empty() ? 0.0 : g.explanations[0].log_gain);
}

TEST(RingGuess, KeepsToAKnownDistance) {
  const RingScenery s = camera(150.2, 110.7);
  const Image counts = poisson(expected_rings(s), 4);
  RingKnowledge k = knowledge(s);
  k.distance_mm = 600.0;  // wrong on purpose
  for (const RingExplanation& e :
       guess_rings(counts, unusable_pixels(counts, Mask()), k, ring_two_theta_rad(s.d_nm, s.truth.wavelength_nm))
           .explanations)
    EXPECT_NEAR(e.geometry.distance_mm, 600.0, 0.25 * 600.0);
}

}  // namespace
}  // namespace sievelight
