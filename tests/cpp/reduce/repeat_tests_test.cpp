// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/repeat_tests.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;

RepeatCounts table(const MatrixXd& counts) {
  return {counts, MatrixXd::Constant(counts.rows(), counts.cols(), 1.0 / static_cast<double>(counts.rows()))};
}

// By hand: 9 and 1 of 10 with equal shares: 2 (10 + 1)/1024.
TEST(RepeatTests, ScaleIsTheExactBinomial) {
  const ScaleTest t = test_scale(table((MatrixXd(2, 2) << 4, 5, 1, 0).finished()), 0);
  EXPECT_NEAR(t.probability, 22.0 / 1024, 1e-12);
  EXPECT_NEAR(t.scale, 9.0, 1e-12);
  EXPECT_EQ(test_scale(table(MatrixXd::Constant(2, 3, 5.0)), 0).probability, 1.0);
}

// Source: Pearson's chi-square of a 2 x 2 table, n (ad - bc)^2 / (row and column sums).
TEST(RepeatTests, ShapeIsPearsonsChiSquare) {
  const double a = 30, b = 70, c = 50, d = 60;
  const ShapeTest t = test_shape(table((MatrixXd(2, 2) << a, b, c, d).finished()), 0);
  const double n = a + b + c + d;
  EXPECT_NEAR(t.chi2, n * std::pow(a * d - b * c, 2) / ((a + b) * (c + d) * (a + c) * (b + d)), 1e-9);
  EXPECT_EQ(t.degrees_of_freedom, 1.0);
  // One degree of freedom: erfc(sqrt(chi2/2)), widened by the fourth moment of these counts.
  EXPECT_NEAR(t.probability, std::erfc(std::sqrt(t.chi2 / 2)), 0.01);
  EXPECT_EQ(test_shape(table(MatrixXd::Constant(2, 3, 1.0)), 0).degrees_of_freedom, 0.0);  // too few to tell
}

// By hand: three photons, three exposures, all in the last: the sum of numbers is 6, which 1 of 27 arrangements has, as
// has its opposite.
TEST(RepeatTests, TrendOfFewCountsIsExact) {
  const TrendTest t = test_scale_trend(table((MatrixXd(3, 2) << 0, 0, 0, 0, 1, 2).finished()));
  EXPECT_NEAR(t.probability, 2.0 / 27, 1e-12);
  // Low photons first, high photons last: (0, 0) and (2, 2): 1 of 81 arrangements of four photons, and its opposite.
  const TrendTest low = test_low_trend(table((MatrixXd(3, 2) << 2, 0, 0, 0, 0, 2).finished()), 1);
  EXPECT_NEAR(low.probability, 2.0 / 81, 1e-12);
  EXPECT_LT(low.change, 0.0);
}

TEST(RepeatTests, TrendSizesAreThoseOfTheData) {
  MatrixXd counts(5, 2);
  for (int k = 0; k < 5; ++k) counts.row(k) << 1e7 * (1 + 0.01 * (k - 2)), 1e7;
  // The score is first order in the change: 1e-3 of it.
  EXPECT_NEAR(test_scale_trend(table(counts)).change, 0.02, 1e-4);
  EXPECT_NEAR(test_low_trend(table(counts), 1).change, 0.04, 1e-4);
  counts.col(1) = counts.col(0);
  EXPECT_NEAR(test_low_trend(table(counts), 1).z, 0.0, 1e-9);
}

// Counting: each test's p-value is below 5 % in 5 % of repeats at most, and not far less at many counts. 3000 draws of
// four exposures with unequal shares; 1.6 % are four standard deviations.
TEST(RepeatTests, ProbabilitiesAreCalibrated) {
  std::mt19937_64 random(41);
  for (const double mean : {0.3, 3.0, 300.0}) {
    int scale = 0, shape = 0, trend = 0, low = 0;
    const int draws = mean < 1 ? 1000 : 3000;
    const double share[] = {0.1, 0.2, 0.3, 0.4};
    for (int r = 0; r < draws; ++r) {
      RepeatCounts d{MatrixXd(4, 30), MatrixXd(4, 30)};
      for (Index i = 0; i < 30; ++i)
        for (Index k = 0; k < 4; ++k) {
          d.share(k, i) = share[k];
          d.counts(k, i) =
              std::poisson_distribution<int>(4 * mean * share[k] * (1 + 60.0 / static_cast<double>(1 + i * i)))(random);
        }
      scale += test_scale(d, 1).probability < 0.05;
      shape += test_shape(d, 1).probability < 0.05;
      trend += test_scale_trend(d).probability < 0.05;
      low += test_low_trend(d, 3).probability < 0.05;
    }
    const double margin = 4 * std::sqrt(0.05 * 0.95 / draws);
    for (const int count : {scale, shape, trend, low}) {
      EXPECT_LE(static_cast<double>(count) / draws, 0.05 + margin) << mean;
      // Tests of whole numbers and few groups stay below; they are not asleep.
      EXPECT_GE(static_cast<double>(count) / draws, mean > 100 ? 0.05 - margin - 0.01 : 0.01) << mean;
    }
  }
}

}  // namespace
}  // namespace sievelight
