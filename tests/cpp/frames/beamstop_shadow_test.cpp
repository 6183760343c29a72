// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/beamstop_shadow.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <random>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double xc = 120.3, yc = 95.8;
constexpr Index rows = 200, columns = 240;

struct Scene {
  Image mean = Image::Zero(rows, columns);
  Mask shadow = Mask::Constant(rows, columns, false);
};

// A pattern of (r, azimuth) behind a stop; `covered` gives how much of a pixel the stop and its arm cover.
Scene scene(const std::function<double(double, double)>& pattern, const std::function<double(double, double)>& covered,
            double leak = 0.01, double spot = 0.0) {
  Scene s;
  for (Index y = 0; y < rows; ++y)
    for (Index x = 0; x < columns; ++x) {
      const double dx = static_cast<double>(x) - xc, dy = static_cast<double>(y) - yc;
      const double cover = std::clamp(covered(dx, dy), 0.0, 1.0), r = std::hypot(dx, dy);
      s.mean(y, x) =
          pattern(r, std::atan2(dy, dx)) * (1 - cover * (1 - leak)) + spot * std::exp(-r * r / (2 * 1.5 * 1.5));
      s.shadow(y, x) = cover > 0.5;
    }
  return s;
}

Image poisson(const Image& mean, unsigned start) {
  std::mt19937_64 random(start);
  Image out(mean.rows(), mean.cols());
  for (Index i = 0; i < mean.size(); ++i)
    out.data()[i] = static_cast<double>(std::poisson_distribution<long>(mean.data()[i])(random));
  return out;
}

double disc(double dx, double dy, double radius, double x0 = 0, double y0 = 0) {
  return radius + 0.5 - std::hypot(dx - x0, dy - y0);  // an edge one pixel wide
}
double arm(double dx, double dy, double half_width) {
  return dy > 0 ? half_width + 0.5 - std::abs(dx + 0.1 * dy) : 0.0;
}

double powder(double r, double) { return 2e6 / std::pow(std::max(r, 5.0), 2.5) + 2; }

// All of the shadow but what is half in it, and no more than the margin's width beyond it.
void expect_close(const Mask& found, const Mask& shadow, double most_missed, Index most_extra) {
  const Index missed = (shadow && !found).count(), extra = (found && !shadow).count();
  EXPECT_LE(static_cast<double>(missed), most_missed * static_cast<double>(shadow.count())) << extra;
  EXPECT_LE(extra, most_extra) << missed;
}

TEST(BeamstopShadow, IsFoundWithItsArm) {
  unsigned start = 0;
  for (const double scale : {0.02, 1.0, 100.0}) {
    const Scene s = scene([&](double r, double a) { return scale * powder(r, a); },
                          [](double dx, double dy) { return std::max(disc(dx, dy, 14), arm(dx, dy, 4)); });
    const BeamstopShadow found = find_beamstop_shadow(poisson(s.mean, ++start), Mask(), {xc, yc});
    ASSERT_TRUE(found.found) << found.words;
    EXPECT_NEAR(found.edge_radius_px, 15, 2);
    // The margin of one pixel around an outline of some 330 pixels; at 0.1 counts a pixel the arm's end is not seen.
    expect_close(found.mask, s.shadow, scale < 0.1 ? 0.2 : 0.01, scale < 0.1 ? 700 : 450);
  }
}

TEST(BeamstopShadow, OfASemiTransparentStopTakesTheSpotWithIt) {
  for (const double spot : {1e3, 1e6}) {  // fainter and brighter than what lies outside
    const Scene s = scene(
        powder, [](double dx, double dy) { return disc(dx, dy, 14); }, 0.01, spot);
    const BeamstopShadow found = find_beamstop_shadow(poisson(s.mean, 7), Mask(), {xc, yc});
    ASSERT_TRUE(found.found) << found.words;
    expect_close(found.mask, s.shadow, 0.0, 140);
    EXPECT_TRUE(found.mask(96, 120));
  }
}

TEST(BeamstopShadow, NeedsNeitherACentredNorARoundStop) {
  const Scene off = scene(powder, [](double dx, double dy) { return disc(dx, dy, 14, 5, -4); });
  const BeamstopShadow a = find_beamstop_shadow(poisson(off.mean, 3), Mask(), {xc, yc});
  ASSERT_TRUE(a.found) << a.words;
  expect_close(a.mask, off.shadow, 0.01, 160);
  const Scene square = scene(powder, [](double dx, double dy) { return 12.5 - std::max(std::abs(dx), std::abs(dy)); });
  const BeamstopShadow b = find_beamstop_shadow(poisson(square.mean, 4), Mask(), {xc, yc});
  ASSERT_TRUE(b.found) << b.words;
  expect_close(b.mask, square.shadow, 0.01, 160);
}

TEST(BeamstopShadow, StopsBeforeARingAndBeforeDarkDirections) {
  // Between the stop and the first ring of a calibrant the level is low, the ring is a hundred times higher.
  const Scene rings =
      scene([](double r, double) { return 20 + 2000 * std::exp(-std::pow(std::remainder(r, 35.0) / 1.5, 2) / 2); },
            [](double dx, double dy) { return disc(dx, dy, 12); });
  const BeamstopShadow a = find_beamstop_shadow(poisson(rings.mean, 5), Mask(), {xc, yc});
  ASSERT_TRUE(a.found) << a.words;
  expect_close(a.mask, rings.shadow, 0.01, 140);
  // An oriented sample: tenfold between its bright and its dark direction, both smooth.
  const Scene oriented =
      scene([](double r, double azimuth) { return powder(r, 0) * (0.1 + std::pow(std::cos(azimuth), 2)); },
            [](double dx, double dy) { return disc(dx, dy, 14); });
  const BeamstopShadow b = find_beamstop_shadow(poisson(oriented.mean, 6), Mask(), {xc, yc});
  ASSERT_TRUE(b.found) << b.words;
  expect_close(b.mask, oriented.shadow, 0.01, 250);
}

TEST(BeamstopShadow, IsNotGuessedWhereThereIsNone) {
  const auto none = [](double, double) { return 0.0; };
  const auto nothing = [&](const char* what, const std::function<double(double, double)>& pattern, double spot = 0) {
    for (unsigned start = 1; start <= 10; ++start) {
      const BeamstopShadow found =
          find_beamstop_shadow(poisson(scene(pattern, none, 1, spot).mean, start), Mask(), {xc, yc});
      EXPECT_FALSE(found.found) << what << ": " << found.words;
      EXPECT_EQ(found.mask.count(), 0);
      EXPECT_NE(found.words.find("nothing found"), std::string::npos);
    }
  };
  nothing("steep", powder);
  nothing("flat", [](double, double) { return 3.0; });
  nothing("few counts", [](double, double) { return 0.02; });
  nothing(
      "direct beam", [](double, double) { return 1.0; }, 1e5);
  // Dense packing: the level rises fivefold towards a maximum at 45 pixels.
  nothing("broad maximum", [](double r, double) { return 100 + 400 * std::exp(-std::pow((r - 45) / 15, 2) / 2); });
  nothing("rings", [](double r, double) { return 20 + 500 * std::exp(-std::pow(std::remainder(r, 30.0) / 2, 2) / 2); });
}

TEST(BeamstopShadow, RefusesImpossibleCalls) {
  const Image counts = Image::Ones(10, 12);
  EXPECT_NE(refusal<InputError>([&] {
              find_beamstop_shadow(counts, Mask::Constant(12, 10, false), {5, 5});
            }).find("10 x 12 and its mask 12 x 10"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] {
              find_beamstop_shadow(counts, Mask(), {std::nan(""), 5});
            }).find("beam point"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] {
              find_beamstop_shadow(counts, Mask(), {5, 5}, {.contrast = 1.0});
            }).find("contrast"),
            std::string::npos);
  EXPECT_FALSE(find_beamstop_shadow(counts, Mask::Constant(10, 12, true), {5, 5}).found);
}

}  // namespace
}  // namespace sievelight
