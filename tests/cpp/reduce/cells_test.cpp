// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/cells.hpp"

#include "reduce/synthetic.hpp"

#include <limits>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::VectorXd;

// Cells that are the bins of q give what average() gives, dark, dead time and masks included.
TEST(Cells, ThatAreBinsOfQGiveTheAverage) {
  const PixelMap map = pixel_map(small_detector(), 60, 70);
  const VectorXd edges = make_bins(map, {}, {.bins = 20});
  Mask masked = Mask::Constant(60, 70, false);
  masked.topRows(4).setConstant(true);
  const BinTable table = bin_table(map, masked, edges);
  Cells cells{Image::Constant(60, 70, std::numeric_limits<double>::quiet_NaN()), 20};
  for (Eigen::Index i = 0; i < cells.place.size(); ++i)
    if (table.index.data()[i] >= 0) cells.place.data()[i] = table.index.data()[i] + 0.5;
  std::mt19937_64 random(1);
  Frame frame = poisson_frame(expected_frame(map, map.solid_angle_sr(), 2.0, [](double) { return 3e6; }), random);
  frame.masked.leftCols(3).setConstant(true);
  Frame dark = poisson_frame(expected_frame(map, Image::Ones(60, 70), 4.0, [](double) { return 0.2; }), random);
  AverageOptions options;
  options.corrections.dead_time = DeadTime{1e-5, DeadTimeModel::non_paralyzable};
  options.corrections.sensor = Absorber{30.0, 0.45};
  const ExposureOptions exposure{.name = "s", .dark = &dark};
  const Averaged a = average({&frame}, map, masked, edges, options, exposure);
  const Averaged b = average_cells({&frame}, map, masked, cells, options, exposure);
  EXPECT_EQ(a.curve.intensity, b.curve.intensity);
  EXPECT_EQ(a.curve.private_u, b.curve.private_u);
  EXPECT_EQ(a.curve.causes.at("dark counts: dark").u, b.curve.causes.at("dark counts: dark").u);
  EXPECT_EQ(a.bin, b.bin);
  EXPECT_EQ(a.pixels, b.pixels);
  EXPECT_TRUE(b.curve.q_per_nm.isApprox((b.bin.cast<double>().array() + 0.5).matrix(), 1e-12));
  for (const std::string& note : b.notes) EXPECT_EQ(note.find("mean q"), std::string::npos) << note;
}

TEST(Cells, AzimuthsFindTheirPlaceWhateverTheTurn) {
  const VectorXd edges = azimuth_edges(4, -45.0);
  EXPECT_NEAR(azimuth_place(0.0, edges), 0.5, 1e-12);
  EXPECT_NEAR(azimuth_place(360.0, edges), 0.5, 1e-12);
  EXPECT_NEAR(azimuth_place(-90.0, edges), 3.5, 1e-12);
  EXPECT_NEAR(azimuth_place(180.0, edges), azimuth_place(-180.0, edges), 1e-12);
  EXPECT_EQ(azimuth_place(45.0, edges), 1.0);
  const VectorXd some = (VectorXd(3) << 350, 355, 370).finished();
  EXPECT_NEAR(azimuth_place(0.0, some), 1 + 5.0 / 15, 1e-12);
  EXPECT_TRUE(std::isnan(azimuth_place(11.0, some)));
  EXPECT_LT(azimuth_place(10.0, some), 2.0);  // the last edge belongs to the last bin
}

TEST(Cells, RefusesEdgesThatAreNone) {
  EXPECT_HOLDS(message<InputError>([] { azimuth_edges(0); }), "0 azimuth bins");
  EXPECT_HOLDS(message<InputError>([] { check_azimuth_edges(VectorXd::LinSpaced(3, 0, 400)); }), "span 400 degrees");
  EXPECT_HOLDS(message<InputError>([] { check_azimuth_edges((VectorXd(3) << 0, 20, 10).finished()); }),
               "edge 2 is 10 degrees, after 20");
}

}  // namespace
}  // namespace sievelight
