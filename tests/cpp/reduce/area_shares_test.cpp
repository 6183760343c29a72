// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_shares.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/bins.hpp"

#include <cmath>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;
using Eigen::VectorXd;

TEST(AreaShares, ShareOfAPixelIsItsArea) {
  // Along one side: linear. A square whose diagonal is the edge: half. A corner: a triangle, by hand (0.2)^2/2 of a
  // unit square with half spans 1/2: q below -0.8 is a triangle of legs 0.2.
  EXPECT_NEAR(share_below(0.25, 0.0, 0.5, 0.0), 0.75, 1e-12);
  EXPECT_NEAR(share_below(1.0, 1.0, 0.3, 0.1), 0.5, 1e-12);
  EXPECT_NEAR(share_below(-0.8, 0.0, 0.5, 0.5), 0.02, 1e-12);
  EXPECT_EQ(share_below(-2.0, 0.0, 0.5, 0.5), 0.0);
  EXPECT_EQ(share_below(2.0, 0.0, 0.5, 0.5), 1.0);
  // Against counting a grid of 1000 x 1000 points: 1e-3.
  int inside = 0;
  for (int i = 0; i < 1000; ++i)
    for (int j = 0; j < 1000; ++j) inside += 0.7 * (2 * (i + 0.5) / 1000 - 1) + 0.3 * (2 * (j + 0.5) / 1000 - 1) < 0.41;
  EXPECT_NEAR(share_below(0.41, 0.0, 0.7, 0.3), inside / 1e6, 1e-3);
}

AreaShares shares_of(const DetectorGeometry& g, const VectorXd& edges) {
  return AreaShares(g, pixel_map(g, 60, 70).q_per_nm, Mask::Constant(60, 70, false), edges);
}

TEST(AreaShares, EveryPixelIsSharedOutWhole) {
  DetectorGeometry g = small_detector();
  g.yaw_rad = radians(20);
  const double largest = 2.0 * pixel_map(g, 60, 70).q_per_nm.maxCoeff();
  // Wide bins: all in the table, whole multiples of 1/32768, so exact. Narrow: only lists, which round like any sum.
  for (const int bins : {20, 100, 2000}) {
    const AreaShares shares = shares_of(g, linear_edges(0.0, largest, bins));
    const VectorXd sums = shares.matrix().transpose() * VectorXd::Ones(bins);
    EXPECT_NEAR(sums.minCoeff(), 1.0, 1e-12);
    EXPECT_NEAR(sums.maxCoeff(), 1.0, 1e-12);
    EXPECT_EQ(shares.exceptions().size() > 2000, bins == 2000);
  }
}

// The truth: circles, on 400 x 400 points of a pixel. Tolerance: counting the points along an edge (1/400 of the
// pixel), taking the circle for a straight line (1/160 at most), rounding (1/65536).
TEST(AreaShares, AreThoseOfCirclesOnAFineGrid) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  const double per_pixel = q_per_nm(g, g.beam_center_x_px + 1, g.beam_center_y_px);
  VectorXd uneven(7);  // the third bin is a thousandth of a pixel wide
  uneven << 2.0, 9.0, 25.0, 25.001, 26.5, 30.0, 31.0;
  for (const VectorXd& edges :
       {linear_edges(0.0, 60 * per_pixel, 40), linear_edges(3.3 * per_pixel, 33 * per_pixel, 33),
        linear_edges(3.3 * per_pixel, 33 * per_pixel, 400), VectorXd(uneven * per_pixel)}) {
    const AreaShares shares = shares_of(g, edges);
    const Index bins = edges.size() - 1;
    for (const auto& [row, column] : {std::pair<Index, Index>{28, 31},
                                      {27, 33},
                                      {20, 20},
                                      {0, 3},
                                      {45, 51},
                                      {28, 56},
                                      {59, 69},
                                      {9, 13},
                                      {28, 64},
                                      {30, 69}}) {
      VectorXd truth = VectorXd::Zero(bins), mine = truth;
      double mean = 0.0;
      constexpr int side = 400;
      for (int i = 0; i < side; ++i)
        for (int j = 0; j < side; ++j) {
          const double q = q_per_nm(g, static_cast<double>(column) - 0.5 + (i + 0.5) / side,
                                    static_cast<double>(row) - 0.5 + (j + 0.5) / side);
          mean += q / (side * side);
          const Index bin = std::upper_bound(edges.begin(), edges.end(), q) - edges.begin() - 1;
          if (bin >= 0 && bin < bins) truth[bin] += 1.0 / (side * side);
        }
      const Index pixel = row * 70 + column;
      shares.each(pixel, [&](Index bin, double share) { mine[bin] += share; });
      EXPECT_EQ(shares.used(pixel), mine.sum() > 0) << row << " " << column;
      for (Index k = 0; k < bins; ++k) EXPECT_NEAR(mine[k], truth[k], 0.01) << row << " " << column << " bin " << k;
      EXPECT_NEAR(shares.mean_q_per_nm()(row, column), mean, 1e-2 * per_pixel);
    }
  }
}

// A bin that is thinner than the steps of the table keeps its share: its area is that of its ring, 2 pi r dr pixels.
TEST(AreaShares, AThinBinIsNotRoundedAway) {
  const DetectorGeometry g = small_detector();
  const double per_pixel = q_per_nm(g, g.beam_center_x_px + 1, g.beam_center_y_px), thin = 1e-6;
  VectorXd edges(4);
  edges << 10.0, 23.0, 23.0 + thin, 26.0;
  const AreaShares shares = shares_of(g, edges * per_pixel);
  EXPECT_GT(shares.exceptions().size(), 100u);
  const VectorXd area = shares.matrix() * VectorXd::Ones(60 * 70);
  // q is not quite linear in r: (r/L)^2 3/8 of it, L = 800 pixels, three times as much in its slope.
  EXPECT_NEAR(area[1] / (2 * pi * 23 * thin), 1.0, 0.003);
}

TEST(AreaShares, SkippedPixelsAndThoseOutsideHaveNone) {
  const DetectorGeometry g = small_detector();
  Mask skip = Mask::Constant(60, 70, false);
  skip(30, 40) = true;
  const AreaShares shares(g, pixel_map(g, 60, 70).q_per_nm, skip, linear_edges(0.2, 0.8, 10));
  EXPECT_FALSE(shares.used(30 * 70 + 40));
  EXPECT_TRUE(shares.used(30 * 70 + 41));
  EXPECT_FALSE(shares.used(28 * 70 + 31));  // the beam
  EXPECT_FALSE(shares.used(59 * 70 + 69));  // the corner
  EXPECT_EQ(shares.rows(), 12);             // below, ten bins, none
}

// More bins than a row number of 16 bits reaches: the last pixels stand in lists and keep their bins.
TEST(AreaShares, ManyBins) {
  DetectorGeometry g = small_detector();
  g.beam_center_x_px = -30.0;
  g.beam_center_y_px = 28.0;
  const Index bins = 70000, wide = 10, thin = bins - wide;
  const double per_pixel = q_per_nm(g, g.beam_center_x_px + 1, g.beam_center_y_px);
  VectorXd edges(bins + 1);  // in pixels: the thin ones cross the middle of the first column alone
  for (Index k = 0; k <= thin; ++k) edges[k] = 29.6 + 0.8 * static_cast<double>(k) / static_cast<double>(thin);
  for (Index k = 1; k <= wide; ++k) edges[thin + k] = 29.6 + 0.8 + 5.0 * static_cast<double>(k);
  const AreaShares shares = shares_of(g, edges * per_pixel);
  EXPECT_EQ(shares.rows(), 65536);
  // 37 pixels from the beam, in the second wide bin.
  std::vector<std::pair<Index, double>> found;
  shares.each(28 * 70 + 7, [&](Index bin, double share) { found.emplace_back(bin, share); });
  EXPECT_EQ(found, (std::vector<std::pair<Index, double>>{{thin + 1, 1.0}}));
  // Every thin bin holds a part of the pixel nearest to the beam: 0.8 of it, all alike but for the curve.
  double sum = 0;
  Index parts = 0;
  shares.each(28 * 70, [&](Index bin, double share) {
    sum += bin < thin ? share : 0.0;
    parts += bin < thin;
  });
  EXPECT_EQ(parts, thin);
  EXPECT_NEAR(sum, 0.8, 0.01);
}

}  // namespace
}  // namespace sievelight
