// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bins.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

TEST(Bins, AreEqualInTheLogarithmOrInQ) {
  const Eigen::VectorXd log = log_edges(0.1, 10.0, 4), linear = linear_edges(0.0, 2.0, 4);
  EXPECT_EQ(log[0], 0.1);
  EXPECT_EQ(log[4], 10.0);
  for (int i = 0; i < 4; ++i) EXPECT_NEAR(log[i + 1] / log[i], std::sqrt(10.0), 1e-12);  // 2 decades in 4 bins
  EXPECT_DOUBLE_EQ(linear[1], 0.5);
}

TEST(Bins, BeginJustOutsideTheMask) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  Mask stop = map.q_per_nm < 0.3;  // a beamstop
  const Eigen::VectorXd edges = make_bins(map, stop, {.bins = 50});
  double lowest = 1e9, highest = 0;
  for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i)
    if (!stop.data()[i]) {
      lowest = std::min(lowest, map.q_per_nm.data()[i]);
      highest = std::max(highest, map.q_per_nm.data()[i]);
    }
  EXPECT_EQ(edges[0], lowest);
  EXPECT_EQ(edges[50], highest);
  EXPECT_GT(lowest, 0.3);
}

TEST(Bins, HoldEveryUsablePixelOnceAndInItsPlace) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  Mask mask = map.q_per_nm < 0.2;
  mask.row(30).setConstant(true);
  const BinTable table = bin_table(map, mask, make_bins(map, mask, {.bins = 37}));
  EXPECT_EQ(table.pixels.sum(), (!mask).count());
  for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i) {
    const int k = table.index.data()[i];
    ASSERT_EQ(k < 0, mask.data()[i]);
    if (k < 0) continue;
    ASSERT_GE(map.q_per_nm.data()[i], table.edges_per_nm[k]);
    if (k < 36) {
      ASSERT_LT(map.q_per_nm.data()[i], table.edges_per_nm[k + 1]);
    }
  }
}

TEST(Bins, OfSectorsThatTogetherMakeTheCircleHoldThePixelsOfTheCircle) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const Eigen::VectorXd edges = make_bins(map, {}, {.bins = 10});
  const BinTable all = bin_table(map, {}, edges);
  // The second one passes through +-180 degrees.
  const BinTable first = bin_table(map, {}, edges, {{radians(-100.0), radians(95.0)}});
  const BinTable second = bin_table(map, {}, edges, {{radians(95.0), radians(260.0)}});
  EXPECT_EQ(all.pixels, first.pixels + second.pixels);
  EXPECT_EQ(bin_table(map, {}, edges, {{radians(-100.0), radians(95.0)}, {radians(95.0), radians(260.0)}}).pixels,
            all.pixels);
  for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i)
    ASSERT_EQ(second.index.data()[i] >= 0,
              map.azimuth_rad.data()[i] > radians(95.0) || map.azimuth_rad.data()[i] < radians(-100.0));
}

TEST(Bins, RefuseWhatCannotBe) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  EXPECT_HOLDS(message<InputError>([] { log_edges(0.0, 1.0, 5); }), "from q = 0 to 1 1/nm");
  EXPECT_HOLDS(message<InputError>([] { linear_edges(2.0, 1.0, 5); }), "from q = 2 to 1 1/nm");
  EXPECT_HOLDS(message<InputError>([] { log_edges(0.1, 1.0, 0); }), "0 bins");
  Eigen::VectorXd edges(3);
  edges << 0.1, 0.3, 0.2;
  EXPECT_HOLDS(message<InputError>([&] { bin_table(map, {}, edges); }), "edge 2 is 0.2 after 0.3 1/nm");
  EXPECT_HOLDS(message<InputError>([&] { make_bins(map, Mask::Constant(60, 70, true)); }),
               "the mask hides every one of the 4200 pixels");
  const std::string size = message<InputError>([&] { make_bins(map, Mask::Constant(70, 60, false)); });
  EXPECT_HOLDS(size, "the mask has 70 x 60");
  EXPECT_HOLDS(size, "has 60 x 70");
  const std::string range = message<InputError>([&] { bin_table(map, {}, log_edges(50.0, 60.0, 5)); });
  EXPECT_HOLDS(range, "no pixel lies in the bins from q = 50 to 60 1/nm");
  EXPECT_HOLDS(range, "The unmasked pixels reach from");
  EXPECT_HOLDS(message<InputError>([&] { bin_table(map, {}, make_bins(map, {}), {{1.0, 0.5}}); }), "anticlockwise");
}

}  // namespace
}  // namespace sievelight
