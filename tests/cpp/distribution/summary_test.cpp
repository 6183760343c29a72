// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/summary.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

Eigen::VectorXd log_normal(const SizeGrid& grid, double median_nm, double sigma) {
  const Eigen::ArrayXd z = (grid.diameter_nm.array() / median_nm).log() / sigma;
  return (-0.5 * z.square()).exp() / (sigma * std::sqrt(2 * std::numbers::pi));
}

// Source: volume-weighted log-normal, D50,3 = 50 nm, sigma_g = 1.5 (Hatch and Choate 1929; ISO 9276-5 conversion): mean
// x_{1,3} = 54.28369916735, 16 % point 50/1.5, 6 / x_{1,2} = 130.2808780 m^2/cm^3; coefficient of variation
// sqrt(e^(s^2)
// - 1); 10 % point 50 e^(-1.2815515655 s). Linear interpolation adds step^2/6 = 6e-5 (200 nodes a decade: 2e-5) to the
// variance 0.164 of ln D.
TEST(Summary, OfALogNormalHasItsClosedForms) {
  GridOptions options;
  options.cells_per_decade = 200;
  options.most_cells = 5000;
  const SizeGrid grid = make_grid(0.005, 5.0, Range{3.0, 600.0}, options);
  const double s = std::log(1.5);
  const Summary d = Summariser(grid)(log_normal(grid, 50, s));
  EXPECT_NEAR(d.volume, 1.0, 1e-6);
  EXPECT_NEAR(d.x50_nm, 50, 2e-3);
  EXPECT_NEAR(d.x10_nm, 50 * std::exp(-1.2815515655446004 * s), 5e-3);
  EXPECT_NEAR(d.x90_nm, 50 * std::exp(1.2815515655446004 * s), 2e-2);
  EXPECT_NEAR(d.mean_nm, 54.28369916735, 5e-3);
  EXPECT_NEAR(d.relative_width, std::sqrt(std::exp(s * s) - 1), 5e-4);
  EXPECT_NEAR(1000 * d.surface_per_nm, 130.2808780, 1e-2);
  // <D^k> by volume = 50^k e^(k^2 s^2 / 2), so x_{1,2} = 50 e^(-s^2/2), x_{1,0} = <D^-2>/<D^-3> = 50 e^(-5 s^2/2), and
  // 6/pi <D^-3> spheres per volume. The smallest sizes weigh most there: the node step adds 9/6 step^2 to the last.
  EXPECT_NEAR(d.surface_mean_nm, 50 * std::exp(-s * s / 2), 5e-3);
  EXPECT_NEAR(d.number_mean_nm, 50 * std::exp(-2.5 * s * s), 1e-2);
  EXPECT_NEAR(d.number_per_nm3 * std::numbers::pi / 6 * std::pow(50.0, 3) * std::exp(-4.5 * s * s), 1.0, 1e-3);
  // <D^5>/<D^3> = 50^2 e^(8 s^2).
  EXPECT_NEAR(d.rg_nm, std::sqrt(3.0 / 20 * 2500 * std::exp(8 * s * s)), 0.2);
  EXPECT_NEAR(d.below_50_nm, 0.5, 1e-5);
  EXPECT_LT(d.edge_share, 1e-6);
}

TEST(Summary, DoesNotStepWithTheGrid) {
  // Shifting a peak by a hundredth of a cell must move x50 by as much: constant cells would not move at all.
  const SizeGrid grid = make_grid(0.05, 5.0);
  const Summariser summarise(grid);
  const double shift = std::exp(0.01 * grid.step);
  const double a = summarise(log_normal(grid, 8, 0.1)).x50_nm, b = summarise(log_normal(grid, 8 * shift, 0.1)).x50_nm;
  EXPECT_NEAR(b / a, shift, 0.2 * (shift - 1));
}

TEST(Summary, SpeaksOfTheWindowOnly) {
  const SizeGrid grid = make_grid(0.05, 5.0, Range{4.0, 20.0});
  const Summariser summarise(grid);
  const Summary d = summarise(log_normal(grid, 20, 0.2));  // half of it lies above the window
  EXPECT_NEAR(d.volume, 0.5, 1e-3);
  EXPECT_LT(d.x90_nm, 20);
  EXPECT_GT(d.edge_share, 0.5);
  const Eigen::VectorXd below = summarise.cumulative(log_normal(grid, 20, 0.2));
  EXPECT_DOUBLE_EQ(below[0], 0);
  EXPECT_NEAR(below[below.size() - 1], d.volume, 1e-12);
}

// One hat of volume 1 seen through a Gaussian of 0.1: variances add, step^2/6 of the hat to 0.01.
TEST(Summary, SmoothsTheHatsNotTheNodes) {
  const SizeGrid grid = make_grid(0.05, 5.0);
  Eigen::VectorXd x = Eigen::VectorXd::Zero(grid.size());
  const Eigen::Index middle = grid.window_low + grid.window_size() / 2;
  x[middle] = 1 / grid.step;
  const Eigen::VectorXd seen = smoothing_matrix(grid, 0.1) * x;
  double volume = 0, variance = 0;
  for (Eigen::Index j = 0; j < seen.size(); ++j) {
    const double u = static_cast<double>(grid.window_low + j - middle) * grid.step;
    volume += grid.step * seen[j];
    variance += grid.step * seen[j] * u * u;
  }
  EXPECT_NEAR(volume, 1, 1e-6);
  EXPECT_NEAR(variance, 0.01 + grid.step * grid.step / 6, 2e-6);
}

TEST(Summary, SmoothsWithoutMovingVolume) {
  const SizeGrid grid = make_grid(0.05, 5.0);
  const Eigen::MatrixXd smooth = smoothing_matrix(grid, 0.1);
  EXPECT_NEAR((smooth.rowwise().sum().array() - 1).abs().maxCoeff(), 0, 1e-12);
  // A Gaussian of 0.15, drawn with hats, seen through one of 0.1: variances add, step^2/6 of the hats too.
  const Eigen::VectorXd seen = smooth * log_normal(grid, 10, 0.15);
  const Eigen::VectorXd expected = log_normal(grid, 10, std::hypot(0.15, 0.1, grid.step / std::sqrt(6.0)))
                                       .segment(grid.window_low, grid.window_size());
  EXPECT_LT((seen - expected).cwiseAbs().maxCoeff(), 1e-4 * expected.maxCoeff());
  const Eigen::VectorXd as_is = smoothing_matrix(grid, 0) * log_normal(grid, 10, 0.15);
  EXPECT_EQ(as_is, log_normal(grid, 10, 0.15).segment(grid.window_low, grid.window_size()));
}

TEST(Summary, CountsModesByProminence) {
  Eigen::VectorXd v(9);
  v << 0, 1, 10, 4, 5, 3, 0.5, 0.6, 0;
  EXPECT_EQ(modes(v, 0.2).size(), 1u);   // 5 rises by 1 above its saddle: 10 % of 10
  EXPECT_EQ(modes(v, 0.05).size(), 2u);  // and 0.6 by 0.1: 1 %
  EXPECT_EQ(modes(v, 0.001).size(), 3u);
  EXPECT_EQ(modes(v, 0.001, 0.18).size(), 2u);  // 0.6 by 0.1: 17 % of itself
  EXPECT_EQ(modes(v, 0.05)[1].first, 4);
  v << 9, 8, 1, 1, 2, 2, 1, 1, 5;  // the ends are no modes; a plateau is one
  EXPECT_EQ(modes(v, 0.05).size(), 1u);
  EXPECT_EQ(modes(v, 0.05)[0].first, 4);
}

// With data that pin every size (a huge information matrix), what is present is what is seen, up to the smoothing.
TEST(Summary, ResolutionKernelBecomesTheSmoothingForPerfectData) {
  const SizeGrid grid = make_grid(0.08, 1.7);
  const Eigen::MatrixXd one = Eigen::MatrixXd::Identity(grid.size(), grid.size());
  const Eigen::MatrixXd kernel = resolution_kernel(grid, 1e-6 * one, 1e6 * one, 0.1);
  EXPECT_LT((kernel - smoothing_matrix(grid, 0.1).middleCols(grid.window_low, grid.window_size())).norm(), 1e-12);
}

// The width of a Gaussian at half its height is sqrt(8 ln 2) standard deviations; piecewise linear sides between nodes
// a third of a standard deviation apart move it by less than 1 %.
TEST(Summary, ResolutionWidthOfAGaussian) {
  const SizeGrid grid = make_grid(0.08, 1.7);
  const double sd = 3 * grid.step;
  const Eigen::Index m = grid.window_size();
  Eigen::MatrixXd kernel(m, 3);
  for (Eigen::Index i = 0; i < m; ++i) {
    const auto bell = [&](double centre) {
      return std::exp(-0.5 * std::pow((double(i) - centre) * grid.step / sd, 2));
    };
    kernel(i, 0) = bell(static_cast<double>(m / 2));
    kernel(i, 1) = bell(0.0);  // only one flank is inside
    kernel(i, 2) = 0.0;        // nothing answers
  }
  const Eigen::VectorXd width = resolution_widths(kernel, grid.step);
  EXPECT_NEAR(width[0] / (std::sqrt(8 * std::log(2.0)) * sd), 1.0, 0.01);
  EXPECT_TRUE(std::isnan(width[1]));
  EXPECT_TRUE(std::isnan(width[2]));
}

}  // namespace
}  // namespace sievelight
