// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/block_sums.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>

namespace sievelight {
namespace {

TEST(BlockSums, CoverEveryPixelOnceWhateverTheShape) {
  for (const auto& [rows, columns] :
       std::vector<std::pair<Eigen::Index, Eigen::Index>>{{1, 1}, {1, 300000}, {3, 100000}, {700, 600}, {2250, 2000}}) {
    const std::vector<Eigen::Index> ends = pixel_blocks(rows, columns);
    ASSERT_GE(ends.size(), 2u);
    EXPECT_EQ(ends.front(), 0);
    EXPECT_EQ(ends.back(), rows * columns);
    for (std::size_t b = 1; b < ends.size(); ++b) EXPECT_GT(ends[b], ends[b - 1]);
  }
}

TEST(BlockSums, AreTheSameOnAnyNumberOfThreads) {
  const auto sum = [] {
    return sum_blocks(700, 600, 2, 5, [](Eigen::Index first, Eigen::Index n, Eigen::MatrixXd& part) {
      for_strips(first, n, [&](Eigen::Index begin, Eigen::Index some) {
        ASSERT_LE(some, longest_strip);
        for (Eigen::Index i = begin; i < begin + some; ++i) {
          part(0, i % 5) += std::sin(static_cast<double>(i));  // rounds: the order matters
          part(1, i % 5) += 1;
        }
      });
    });
  };
  setenv("SIEVELIGHT_THREADS", "1", 1);
  const Eigen::MatrixXd one = sum();
  for (const char* threads : {"2", "3", "16"}) {
    setenv("SIEVELIGHT_THREADS", threads, 1);
    EXPECT_EQ(sum(), one) << threads;  // bit for bit
  }
  unsetenv("SIEVELIGHT_THREADS");
  EXPECT_EQ(one.row(1).sum(), 700 * 600);
}

}  // namespace
}  // namespace sievelight
