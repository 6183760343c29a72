// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/bands.hpp"

#include "sievelight/distribution/diagnose.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace sievelight {
namespace {

Eigen::MatrixXd random_draws(Eigen::Index rows, Eigen::Index count) {
  std::mt19937_64 random(static_cast<std::uint64_t>(1000 * rows + count));
  std::normal_distribution<double> normal;
  Eigen::MatrixXd out(rows, count);
  for (double& value : out.reshaped()) value = std::round(100 * normal(random));  // with ties
  return out;
}

// Interpolated between the order statistics that the standard library sorts.
double sorted_quantile(const Eigen::VectorXd& values, double probability) {
  std::vector<double> v(values.begin(), values.end());
  std::sort(v.begin(), v.end());
  const double at = probability * static_cast<double>(v.size() - 1);
  const auto k = static_cast<std::size_t>(at);
  const double f = at - std::floor(at);
  return k + 1 < v.size() ? (1 - f) * v[k] + f * v[k + 1] : v[k];
}

// Every number of draws up to some powers of two and around them, and rows that do not fill a block of eight.
TEST(DistributionBands, AreThoseOfSortedDraws) {
  for (Eigen::Index count = 1; count < 140; ++count)
    for (const Eigen::Index rows : {1, 8, 13}) {
      const Eigen::MatrixXd draws = random_draws(rows, count);
      const Band b = bands(draws);
      for (Eigen::Index i = 0; i < rows; ++i) {
        const Eigen::VectorXd row = draws.row(i);
        ASSERT_EQ(b.low95[i], sorted_quantile(row, 0.025)) << count << " draws, row " << i;
        ASSERT_EQ(b.low68[i], sorted_quantile(row, 0.158655)) << count << " draws, row " << i;
        ASSERT_EQ(b.median[i], sorted_quantile(row, 0.5)) << count << " draws, row " << i;
        ASSERT_EQ(b.high68[i], sorted_quantile(row, 0.841345)) << count << " draws, row " << i;
        ASSERT_EQ(b.high95[i], sorted_quantile(row, 0.975)) << count << " draws, row " << i;
      }
    }
}

TEST(DistributionBands, AreTheSameOnBothWays) {
  for (const Eigen::Index count : {200, 511, 512, 513, 700}) {
    const Eigen::MatrixXd draws = random_draws(11, count);
    const Band b = bands(draws);
    for (Eigen::Index i = 0; i < 11; ++i) {
      const Estimate e = summarise(draws.row(i));
      EXPECT_EQ(b.median[i], e.value);
      EXPECT_EQ(b.low68[i], e.band68.low);
      EXPECT_EQ(b.high95[i], e.band95.high);
    }
  }
}

TEST(DistributionBands, LeaveOutWhatIsNoNumber) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  Eigen::MatrixXd draws = random_draws(9, 21);
  draws(3, 5) = nan;
  draws.row(8).setConstant(nan);
  const Band b = bands(draws);
  Eigen::VectorXd rest(20);
  rest << draws.row(3).head(5).transpose(), draws.row(3).tail(15).transpose();
  EXPECT_EQ(b.median[3], sorted_quantile(rest, 0.5));
  EXPECT_EQ(b.low95[0], sorted_quantile(draws.row(0), 0.025));
  EXPECT_TRUE(std::isnan(b.median[8]));
}

}  // namespace
}  // namespace sievelight
