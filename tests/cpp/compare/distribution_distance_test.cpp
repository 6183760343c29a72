// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/distribution_distance.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

const Eigen::VectorXd sizes = Eigen::VectorXd::LinSpaced(160, 4, 30);

// Draws of one sample's cumulative: a normal about a centre that the sample has and the measurement knows to `u`.
Eigen::MatrixXd sample(std::mt19937_64& random, double centre, double between, double u) {
  std::normal_distribution<double> normal;
  const double seen = centre + between * normal(random) + u * normal(random);
  Eigen::MatrixXd out(sizes.size(), 60);
  for (Eigen::Index k = 0; k < out.cols(); ++k) {
    const double at = seen + u * normal(random);
    for (Eigen::Index i = 0; i < sizes.size(); ++i) out(i, k) = 0.5 * std::erfc(-(sizes[i] - at) / 2 / std::sqrt(2.0));
  }
  return out;
}

std::vector<Eigen::MatrixXd> batch(std::mt19937_64& random, int n, double centre, double between, double u) {
  std::vector<Eigen::MatrixXd> out;
  for (int k = 0; k < n; ++k) out.push_back(sample(random, centre, between, u));
  return out;
}

// Two equal batches: p below 0.05 in no more than 7 % of 300 pairs would be 5 % + 1.6 standard deviations; the batches
// that are moved by their draws know their error, the others do not and are wider.
TEST(DistributionDistance, EqualBatchesAreSeldomCalledApart) {
  std::mt19937_64 random(3);
  for (const auto& [n, between, u] : {std::tuple{2, 0.3, 0.1}, {3, 0.3, 0.1}, {4, 0.3, 0.1}, {3, 0.02, 0.2}}) {
    int apart = 0;
    double mean = 0;
    for (int k = 0; k < 300; ++k) {
      const auto d = distribution_distance(sizes, batch(random, n, 14, between, u), batch(random, n, 14, between, u),
                                           {400, static_cast<std::uint64_t>(k)});
      if (d.p_equal < 0.05) ++apart;
      EXPECT_EQ(d.interval95_nm.low > 0, d.raw_nm > d.interval95_nm.high - d.raw_nm);
      mean += d.value_nm / d.raw_nm / 300;
    }
    EXPECT_LE(apart, 27) << n << " samples: " << apart;  // 15 expected, 3 standard deviations (3.8) above
    EXPECT_LT(mean, 0.75) << n;                          // most of the raw distance was noise
  }
}

// A shift by 2 nm is a distance of 2 nm: the interval holds it 95 times of 100 (200 pairs: 13 misses are 1 in 100).
TEST(DistributionDistance, AShiftIsItsDistance) {
  std::mt19937_64 random(4);
  int missed = 0;
  double mean = 0;
  for (int k = 0; k < 200; ++k) {
    const auto d = distribution_distance(sizes, batch(random, 4, 14, 0.2, 0.1), batch(random, 4, 16, 0.2, 0.1),
                                         {400, static_cast<std::uint64_t>(k)});
    if (d.interval95_nm.low > 2 || d.interval95_nm.high < 2) ++missed;
    mean += d.value_nm / 200;
  }
  EXPECT_LE(missed, 18) << missed;
  EXPECT_NEAR(mean, 2, 0.05);
}

TEST(DistributionDistance, ASingleSampleIsMovedByItsDraws) {
  std::mt19937_64 random(5);
  const auto d = distribution_distance(sizes, batch(random, 1, 14, 0, 0.1), batch(random, 1, 14, 0, 0.1));
  EXPECT_GT(d.noise_nm, 0.05);
  EXPECT_LT(d.noise_nm, 0.3);
  EXPECT_EQ(d.samples_a, 1);
}

TEST(DistributionDistance, IsTheSameForASeedAndRefusesOtherSizes) {
  std::mt19937_64 random(6);
  const auto a = batch(random, 3, 14, 0.2, 0.1), b = batch(random, 2, 15, 0.2, 0.1);
  EXPECT_EQ(distribution_distance(sizes, a, b).interval95_nm.low, distribution_distance(sizes, a, b).interval95_nm.low);
  EXPECT_THROW(distribution_distance(sizes.head(20), a, b), InputError);
  EXPECT_THROW(distribution_distance(sizes, {}, b), InputError);
  EXPECT_THROW(distribution_distance(sizes, {a[0].leftCols(5)}, b), InputError);
}

}  // namespace
}  // namespace sievelight
