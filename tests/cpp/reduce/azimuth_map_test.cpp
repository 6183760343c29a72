// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/azimuth_map.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

// Every cell is what average() gives for its sector and bin.
TEST(AzimuthMap, CellsAreSectorAverages) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const Eigen::VectorXd q_edges = log_edges(0.1, 1.2, 9), azimuths = azimuth_edges(8, 10.0);
  std::mt19937_64 random(4);
  const Frame frame =
      poisson_frame(expected_frame(map, map.solid_angle_sr(), 1.0, [](double q) { return 2e6 / q; }), random);
  const QAzimuthMap table = q_azimuth_map({&frame}, map, {}, q_edges, azimuths);
  ASSERT_EQ(table.intensity.rows(), 8);
  ASSERT_EQ(table.intensity.cols(), 9);
  for (int row = 0; row < 8; ++row) {
    AverageOptions options;
    options.sectors = {{radians(azimuths[row]), radians(azimuths[row + 1])}};
    const Averaged a = average({&frame}, map, {}, q_edges, options);
    for (Eigen::Index i = 0; i < a.bin.size(); ++i) {
      EXPECT_EQ(table.pixels(row, a.bin[i]), a.pixels[i]);
      EXPECT_EQ(table.counts(row, a.bin[i]), a.counts[i]);
      EXPECT_NEAR(table.intensity(row, a.bin[i]), a.curve.intensity[i], 1e-12 * a.curve.intensity[i]);
      EXPECT_NEAR(table.u(row, a.bin[i]), a.curve.private_u[i], 1e-12 * a.curve.private_u[i]);
    }
    EXPECT_EQ(table.pixels.row(row).sum(), a.pixels.sum());
  }
}

TEST(AzimuthMap, EmptyCellsAreFlaggedAndHoldNoNaN) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const Mask masked = map.azimuth_rad.abs() < radians(20.0);
  const Frame frame = expected_frame(map, Image::Ones(60, 70), 1.0, [](double) { return 5.0; });
  const QAzimuthMap table = q_azimuth_map({&frame}, map, masked, log_edges(0.05, 1.2, 30), azimuth_edges(36));
  EXPECT_TRUE(table.intensity.isFinite().all() && table.u.isFinite().all());
  EXPECT_EQ((table.pixels.topRows(2) > 0).count(), 0);
  EXPECT_TRUE(((table.pixels > 0) == (table.intensity > 0.0)).all());
  EXPECT_HOLDS(message<InputError>([&] {
                 q_azimuth_map({&frame}, map, masked, log_edges(0.05, 1.2, 30),
                               Eigen::VectorXd::LinSpaced(3, -10.0, 10.0), {}, {.name = "Z"});
               }),
               "no unmasked pixel of 'Z' lies between -10 and 10 degrees");
}

}  // namespace
}  // namespace sievelight
