// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_hypothesis.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

/// A well-lit radius of 300 px with peaks at the given places.
struct Seen {
  std::vector<LinePeak> peaks;
  LineProfile profile;
};

Seen seen_at(const std::vector<double>& places) {
  Seen s{{}, {Eigen::ArrayXd::Constant(300, 5000.0), Eigen::ArrayXd::Constant(300, 500.0)}};
  for (const double at : places) {
    LinePeak p;
    p.position_px = at;
    p.u_px = 0.3;
    p.half_width_px = 3.0;
    p.fwhm_px = 6.0;
    p.contrast = 20.0;
    p.significance = 100.0;
    s.peaks.push_back(p);
  }
  return s;
}

RingMatch match(const Seen& s, double spacing) {
  RingHypothesis h;
  for (int k = 1; k <= 13; ++k) h.rings.push_back({k, spacing * k});
  h.complete_to_px = 13.0 * spacing;
  return match_rings(s.peaks, s.profile, h);
}

TEST(RingHypothesis, TheRightSpacingBeatsTheDoubledAndTheHalvedOne) {
  const Seen s = seen_at({50.2, 99.9, 150.0, 200.3});
  const RingMatch right = match(s, 50.0), doubled = match(s, 100.0), halved = match(s, 25.0);
  EXPECT_EQ(right.matched, 4);
  EXPECT_EQ(right.missing, 0);
  EXPECT_EQ(doubled.strays, 2);  // 50 and 150 are no multiples of 100
  EXPECT_EQ(halved.missing, 4);  // 25, 75, 125, 175
  EXPECT_GT(right.log_gain, doubled.log_gain + 3.0);
  EXPECT_GT(right.log_gain, halved.log_gain + 3.0);
}

// With a list of thirteen orders a missing first order behind the beamstop costs nothing, since it is not in view.
TEST(RingHypothesis, ARingBehindTheBeamstopIsNotMissing) {
  Seen s = seen_at({100.0, 150.0, 200.0});
  s.profile.pixels.head(70).setZero();
  const RingMatch right = match(s, 50.0);
  EXPECT_EQ(right.missing, 0);
  EXPECT_EQ(right.matched, 3);
  s.profile.pixels.head(70).setConstant(500.0);
  EXPECT_EQ(match(s, 50.0).missing, 1);
}

// Closed form: one peak on one ring of n = 2 in view, density 1/(sqrt(2 pi) slack) against 1/300, one stray in twenty.
TEST(RingHypothesis, GivesTheLikelihoodRatioOfItsModel) {
  const Seen s = seen_at({100.0});
  RingHypothesis h;
  h.rings = {{1, 100.0}, {2, 200.0}};
  h.complete_to_px = 210.0;
  const double slack = std::sqrt(0.09 + 1.0 + 0.09);
  EXPECT_NEAR(match_rings(s.peaks, s.profile, h).log_gain,
              std::log(0.05 + 0.95 * 300.0 / (2.0 * slack * std::sqrt(2.0 * 3.14159265358979))), 1e-12);
}

TEST(RingHypothesis, GainsNothingWithoutARingInView) {
  const Seen s = seen_at({100.0});
  RingHypothesis h;
  h.rings = {{1, 900.0}};
  EXPECT_EQ(match_rings(s.peaks, s.profile, h).log_gain, 0.0);
}

}  // namespace
}  // namespace sievelight
