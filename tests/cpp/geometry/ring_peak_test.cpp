// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_peak.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace sievelight {
namespace {

constexpr double radius_px = 60.0;

/// Expected counts of a ring at `center` on a flat and a q^-4 background, at 8 offsets a pixel.
std::vector<SectorSample> sector(double center, double amplitude, double flat, double power) {
  std::vector<SectorSample> out;
  for (int i = 0; i < 160; ++i) {
    const double offset = -10.0 + (i + 0.5) / 8.0, t = (offset - center) / 1.7;
    out.push_back({offset, amplitude * std::exp(-0.5 * t * t) + flat + power * std::pow(1.0 + offset / radius_px, -4)});
  }
  return out;
}

std::vector<SectorSample> drawn(std::vector<SectorSample> s, std::mt19937& random) {
  for (SectorSample& p : s) p.counts = static_cast<double>(std::poisson_distribution<long>(p.counts)(random));
  return s;
}

TEST(RingPeak, IsExactOnFlatAndFourthPowerBackgrounds) {
  for (const double power : {0.0, 3000.0})
    for (const double center : {-3.3, 0.0, 2.6}) {
      const auto peak = fit_ring_peak(sector(center, 500.0, 10.0, power), radius_px, 10.0);
      ASSERT_TRUE(peak);
      EXPECT_NEAR(peak->offset_px, center, 2e-4);  // the steps stop at 1e-4 of the width
      EXPECT_NEAR(peak->sigma_px, 1.7, 2e-3);
      EXPECT_NEAR(peak->amplitude, 500.0, 0.5);
    }
}

// Property: the stated uncertainty is the scatter. Over n = 500 draws the rms pull of a right u is 1 with a standard
// deviation of 1/sqrt(2 n) = 0.032 and the mean pull 0 with 0.045; four of them bound each.
TEST(RingPeak, StatesTheScatterOfItsPlaceAtHighAndLowCounts) {
  std::mt19937 random(4);
  // At the last of these most pixels are empty.
  for (const auto& [amplitude, flat] : {std::pair{50.0, 10.0}, {3.0, 0.5}, {3.0, 0.02}}) {
    const auto truth = sector(0.7, amplitude, flat, flat);
    double sum = 0.0, sum2 = 0.0;
    int n = 0;
    for (int i = 0; i < 500; ++i)
      if (const auto peak = fit_ring_peak(drawn(truth, random), radius_px, 10.0, 1.7);
          peak && peak->significance > 5.0) {
        const double pull = (peak->offset_px - 0.7) / peak->u_px;
        sum += pull;
        sum2 += pull * pull;
        ++n;
      }
    EXPECT_GT(n, 450);
    EXPECT_NEAR(std::sqrt(sum2 / n), 1.0, 4 * 0.032) << amplitude;
    EXPECT_NEAR(sum / n, 0.0, 4 * 0.045) << amplitude;
  }
}

TEST(RingPeak, IsNotPulledByHotPixels) {
  std::mt19937 random(5);
  auto s = drawn(sector(0.0, 50.0, 10.0, 0.0), random);
  const auto clean = fit_ring_peak(s, radius_px, 10.0, 1.7);
  s[100].counts = 1e5;
  s[101].counts = 600.0;
  const auto hot = fit_ring_peak(s, radius_px, 10.0, 1.7);
  ASSERT_TRUE(clean && hot);
  // Two of 160 pixels are lost; what they knew is less than half a standard uncertainty.
  EXPECT_NEAR(hot->offset_px, clean->offset_px, 0.5 * clean->u_px);
}

TEST(RingPeak, IsNotFoundInNoiseOrOnASlope) {
  std::mt19937 random(6);
  int found = 0;
  for (int i = 0; i < 300; ++i)
    for (const double power : {0.0, 200.0}) {
      const auto peak = fit_ring_peak(drawn(sector(0.0, 0.0, 10.0, power), random), radius_px, 10.0);
      found += peak && peak->significance > 5.0 ? 1 : 0;
    }
  EXPECT_LE(found, 2);  // 5 standard deviations at some 100 places: below 1e-4 each
  EXPECT_FALSE(fit_ring_peak({}, radius_px, 10.0));
}

}  // namespace
}  // namespace sievelight
