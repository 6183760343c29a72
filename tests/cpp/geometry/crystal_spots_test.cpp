// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/crystal_spots.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <random>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr Index rows = 220, columns = 200;
const DetectorGeometry geometry{.wavelength_nm = 0.15,
                                .distance_mm = 600,
                                .beam_center_x_px = 90.3,
                                .beam_center_y_px = 104.7,
                                .pixel_size_x_mm = 0.172,
                                .pixel_size_y_mm = 0.172};

const PixelMap& map() {
  static const PixelMap made = pixel_map(geometry, rows, columns);
  return made;
}

Image frame(const std::function<double(double r, double azimuth)>& mean, unsigned start,
            const std::vector<std::array<double, 4>>& spots = {}) {  // x, y, height, sd
  std::mt19937_64 random(start);
  Image out(rows, columns);
  for (Index y = 0; y < rows; ++y)
    for (Index x = 0; x < columns; ++x) {
      const double r = std::hypot(static_cast<double>(x) - 90.3, static_cast<double>(y) - 104.7);
      double level = mean(r, map().azimuth_rad(y, x));
      for (const auto& [sx, sy, height, sd] : spots)
        level +=
            height * std::exp(-(std::pow(static_cast<double>(x) - sx, 2) + std::pow(static_cast<double>(y) - sy, 2)) /
                              (2 * sd * sd));
      out(y, x) = static_cast<double>(std::poisson_distribution<long>(level)(random));
    }
  return out;
}

double powder(double r) { return 3e7 / std::pow(std::max(r, 6.0), 4) + 1.5; }

TEST(CrystalSpots, AreFoundWithTheirFlanks) {
  const Image counts = frame([](double r, double) { return 50 * powder(r); }, 1,
                             {{140, 60, 3000, 1.5}, {40, 150, 40000, 2.0}, {100, 20, 400, 0.6}});
  const CrystalSpots found = find_crystal_spots(counts, Mask(), map());
  ASSERT_EQ(found.spots.size(), 3u);
  EXPECT_NEAR(found.spots[0].x_px, 40, 0.1);
  EXPECT_NEAR(found.spots[0].y_px, 150, 0.1);
  EXPECT_NEAR(found.spots[1].x_px, 140, 0.2);
  EXPECT_NEAR(found.spots[2].y_px, 20, 0.5);
  // 40000 * 2 pi sd^2 counts; what stays unmasked outside must be small.
  EXPECT_NEAR(found.spots[0].excess_counts, 40000 * 2 * M_PI * 4, 0.05 * 40000 * 2 * M_PI * 4);
  for (Index y = 0; y < rows; ++y)
    for (Index x = 0; x < columns; ++x) {
      // where the spot is still a fifth of the level beside it, it is masked
      if (40000 *
              std::exp(-(std::pow(static_cast<double>(x) - 40, 2) + std::pow(static_cast<double>(y) - 150, 2)) / 8) >
          0.2 * counts(y, x) + 15) {
        EXPECT_TRUE(found.mask(y, x)) << x << ", " << y << ": " << counts(y, x);
      }
    }
  EXPECT_LE(found.mask.count(), 500);
}

TEST(CrystalSpots, AreFoundWhereAlmostNothingCounts) {
  const Image counts = frame([](double, double) { return 0.05; }, 2, {{140, 60, 12, 1.0}});
  const CrystalSpots found = find_crystal_spots(counts, Mask(), map());
  ASSERT_EQ(found.spots.size(), 1u);
  EXPECT_NEAR(found.spots[0].x_px, 140, 1);
}

// The chance of an alarm in a frame is 1 % by default; the stated limit holds if at most 6 of 180 frames show one (the
// chance of more, at 1 %, is 0.3 %). Levels from nearly none to very many counts, steep, flat and with sharp rings.
TEST(CrystalSpots, AreRarelySeenWhereThereAreNone) {
  int alarms = 0, frames = 0;
  const auto ring = [](double r) { return std::exp(-std::pow(std::remainder(r, 33.0) / 1.3, 2) / 2); };
  for (const double scale : {0.002, 0.1, 1.0, 30.0, 3000.0})
    for (unsigned start = 0; start < 12; ++start) {
      alarms += find_crystal_spots(frame([&](double r, double) { return scale * powder(r); }, start), Mask(), map())
                    .mask.any();
      alarms += find_crystal_spots(frame([&](double, double) { return 10 * scale; }, start), Mask(), map()).mask.any();
      alarms +=
          find_crystal_spots(frame([&](double r, double) { return scale * (3 + 200 * ring(r)); }, start), Mask(), map())
              .mask.any();
      frames += 3;
    }
  RecordProperty("frames_with_alarm", alarms);
  EXPECT_EQ(frames, 180);
  EXPECT_LE(alarms, 6);
}

TEST(CrystalSpots, AreNotSmoothTextureNorAnOrientedPattern) {
  unsigned start = 50;
  const auto ring = [](double r) { return std::exp(-std::pow((r - 70) / 1.5, 2) / 2); };
  for (const double scale : {1.0, 100.0}) {
    // Two streaks as an oriented sample has them, 8 degrees wide (sd), and a textured ring with maxima as wide.
    const auto oriented = [&](double r, double azimuth) {
      return scale * powder(r) * (0.2 + 5 * std::exp(-std::pow(std::remainder(azimuth, M_PI) / 0.14, 2) / 2));
    };
    const auto textured = [&](double r, double azimuth) {
      return scale * (2 + 300 * ring(r) * (0.1 + std::exp(-std::pow(std::remainder(azimuth, M_PI / 3) / 0.14, 2) / 2)));
    };
    EXPECT_EQ(find_crystal_spots(frame(oriented, ++start), Mask(), map()).mask.count(), 0) << scale;
    EXPECT_EQ(find_crystal_spots(frame(textured, ++start), Mask(), map()).mask.count(), 0) << scale;
  }
}

TEST(CrystalSpots, LeaveMaskedPixelsOutOfTheGame) {
  Image counts = frame([](double, double) { return 20.0; }, 9);
  Mask masked = Mask::Constant(rows, columns, false);
  counts.block(50, 50, 10, 10).setConstant(1e6);
  counts(120, 130) = std::nan("");
  masked.block(50, 50, 10, 10).setConstant(true);
  EXPECT_EQ(find_crystal_spots(counts, masked, map()).mask.count(), 0);
}

TEST(CrystalSpots, RefusesImpossibleCalls) {
  EXPECT_NE(
      refusal<InputError>([] { find_crystal_spots(Image::Ones(4, 5), Mask(), map()); }).find("the frame is 4 x 5"),
      std::string::npos);
  EXPECT_NE(refusal<InputError>([] {
              find_crystal_spots(Image::Ones(rows, columns), Mask(), map(), {.false_alarm = 0});
            }).find("false_alarm is 0"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
