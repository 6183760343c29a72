// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/blur.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// Untilted: q = (4 pi/lambda) sin(theta), tan 2theta = r/L, so dq/dr = (2 pi/lambda) cos(theta) cos^2(2theta) / L.
TEST(Blur, AddsBeamPixelAndWavelengthInQuadrature) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  Mask stop = map.q_per_nm < 0.4;
  const BinTable table = bin_table(map, stop, linear_edges(0.4, 2.0, 20));
  const Image ones = Image::Ones(60, 70);
  const Eigen::VectorXd got = q_resolution(map.q_per_nm, ones, table, table.mean_q_per_nm, {0.8, 0.5, 0.5, 0.01});
  for (int k = 0; k < 20; ++k) {
    if (table.pixels[k] == 0) {
      EXPECT_EQ(got[k], 0.0);
      continue;
    }
    const double q = table.mean_q_per_nm[k], theta = std::asin(q * g.wavelength_nm / (4 * pi));
    const double slope = 2 * pi / g.wavelength_nm * std::cos(theta) * std::pow(std::cos(2 * theta), 2) / g.distance_mm;
    const double mm2 = std::pow(0.8 / 2.3548200450309493, 2) + 0.25 / 12;
    // Central differences near the centre: the cone's curvature over one pixel costs (p/r)^2/6, below 0.2 % here.
    EXPECT_NEAR(got[k], std::sqrt(slope * slope * mm2 + q * q * 1e-4), 2e-3 * got[k]);
  }
}

TEST(Blur, OfAStripDetectorKnowsOnlyItsLength) {
  DetectorGeometry g = small_detector();
  g.beam_center_x_px = -20;
  g.beam_center_y_px = 0;
  const PixelMap map = pixel_map(g, 1, 500);
  const BinTable table = bin_table(map, {}, make_bins(map, {}, {.bins = 10}));
  const Eigen::VectorXd got =
      q_resolution(map.q_per_nm, Image::Ones(1, 500), table, table.mean_q_per_nm, {0, 0.5, 8.0, 0});
  EXPECT_TRUE((got.array() > 0).all());
  EXPECT_NEAR(got[0], 2 * pi / g.wavelength_nm / g.distance_mm * 0.5 / std::sqrt(12.0), 1e-3 * got[0]);
}

TEST(Blur, RefusesNegativeWidthsAndMissingPixelSizes) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const BinTable table = bin_table(map, {}, make_bins(map, {}));
  const auto call = [&](Blur b) { q_resolution(map.q_per_nm, map.q_per_nm, table, table.mean_q_per_nm, b); };
  EXPECT_HOLDS(message<InputError>([&] { call({-1, 0.5, 0.5, 0}); }), "the beam is -1 mm wide");
  EXPECT_HOLDS(message<InputError>([&] { call({1, 0, 0, 0}); }), "the pixels are 0 mm x 0 mm");
}

}  // namespace
}  // namespace sievelight
