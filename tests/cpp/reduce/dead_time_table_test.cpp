// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/dead_time_table.hpp"

#include "reduce/synthetic.hpp"

#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using namespace synthetic;

TEST(DeadTimeTable, HoldsWhatTheFunctionGives) {
  for (const DeadTimeModel model : {DeadTimeModel::non_paralyzable, DeadTimeModel::paralyzable}) {
    const DeadTime d{2e-6, model};
    const DeadTimeTable table(d, 0.5);
    ASSERT_GT(table.size(), 1000u);
    for (const std::size_t n : {std::size_t{0}, std::size_t{1}, std::size_t{77}, table.size() - 1, table.size() + 5}) {
      const TrueCounts expected = correct_dead_time(static_cast<double>(n), 0.5, d);
      const DeadTimeTable::Entry got = table(n);
      EXPECT_EQ(got.recorded, static_cast<double>(n));
      EXPECT_EQ(got.counts, expected.counts);
      EXPECT_EQ(got.variance, expected.variance);
      EXPECT_EQ(got.per_dead_time, expected.per_dead_time);
    }
  }
}

// A rate beyond 1/tau cannot be recorded: the table ends there, and such a number is refused when it is met.
TEST(DeadTimeTable, EndsWhereTheRateBecomesImpossible) {
  const DeadTimeTable table({1e-3, DeadTimeModel::non_paralyzable}, 0.1);  // at most 100 counts
  EXPECT_EQ(table.size(), 100u);
  EXPECT_HOLDS(message<InputError>([&] { table(std::size_t{100}); }), "is not possible");
}

TEST(DeadTimeTable, AddsCommonNumbersTogether) {
  const DeadTimeTable table({1e-6, DeadTimeModel::paralyzable}, 0.5);
  const std::size_t n = 37;
  std::vector<double> recorded(n), counts(n, 1.0), variance(n, 2.0);
  for (std::size_t i = 0; i < n; ++i) recorded[i] = static_cast<double>(i * i);
  ASSERT_TRUE(table.add_common(recorded.data(), n, counts.data(), variance.data()));
  for (std::size_t i = 0; i < n; ++i) {
    EXPECT_EQ(counts[i], 1.0 + table(i * i).counts);
    EXPECT_EQ(variance[i], 2.0 + table(i * i).variance);
  }
  const std::vector<double> before = counts;
  for (const double other : {-1.0, 2.5, std::nan(""), static_cast<double>(table.size()), HUGE_VAL}) {
    recorded[20] = other;
    EXPECT_FALSE(table.add_common(recorded.data(), n, counts.data(), variance.data())) << other;
    EXPECT_EQ(counts, before);
  }
}

// The next term is at most 3/2 (n tau/t)^2 of the counts and 5 (n tau/t)^2 of the variance (paralysable counter, 1 and
// 3 for the other); of the derivative the first one left out is 2 or 3 n tau/t.
TEST(DeadTimeTable, IsQuadraticForFewCounts) {
  for (const DeadTimeModel model : {DeadTimeModel::non_paralyzable, DeadTimeModel::paralyzable}) {
    const DeadTime d{1.25e-7, model};
    const DeadTimeTable table(d, 20.0);
    ASSERT_GE(table.quadratic_below(), 64u);
    for (const double n : {1.0, 10.0, static_cast<double>(table.quadratic_below() - 1)}) {
      const TrueCounts exact = correct_dead_time(n, 20.0, d);
      const DeadTimeTable::Entry got = table.of_moments(n, n * n);
      EXPECT_NEAR(got.counts / exact.counts, 1.0, 2e-12);
      EXPECT_NEAR(got.variance / exact.variance, 1.0, 4e-12);
      EXPECT_NEAR(got.per_dead_time / exact.per_dead_time, 1.0, 3e-6);
      EXPECT_EQ(got.recorded, n);
    }
  }
}

}  // namespace
}  // namespace sievelight
