// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/parallel.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <cstdlib>
#include <vector>

namespace sievelight {
namespace {

TEST(Parallel, DoesEveryIndexOnceWhateverTheThreads) {
  for (const std::size_t threads : {0u, 1u, 2u, 7u, 100u}) {
    std::vector<std::atomic<int>> seen(53);
    parallel_for(
        seen.size(), [&](std::size_t i) { ++seen[i]; }, threads);
    for (std::size_t i = 0; i < seen.size(); ++i) EXPECT_EQ(seen[i], 1) << i << " with " << threads;
  }
}

TEST(Parallel, DoesNothingForNothing) {
  parallel_for(0, [](std::size_t) { FAIL() << "called"; });
}

TEST(Parallel, RaisesTheErrorOfAWorkerHere) {
  for (const std::size_t threads : {1u, 4u}) try {
      parallel_for(
          100,
          [](std::size_t i) {
            if (i == 40) throw DataError("frame 40 is broken.", "Copy it again.");
          },
          threads);
      FAIL() << "no error";
    } catch (const DataError& error) {
      EXPECT_EQ(error.problem(), "frame 40 is broken.");
    }
}

TEST(Parallel, MayBeNested) {
  std::atomic<int> calls{0};
  parallel_for(
      5,
      [&](std::size_t) {
        parallel_for(
            7, [&](std::size_t) { ++calls; }, 3);
      },
      3);
  EXPECT_EQ(calls, 35);
}

TEST(Parallel, TheEnvironmentSetsTheThreads) {
  const char* before = std::getenv("SIEVELIGHT_THREADS");
  const std::string kept = before ? before : "";
  setenv("SIEVELIGHT_THREADS", "3", 1);
  EXPECT_EQ(thread_count(), 3u);
  setenv("SIEVELIGHT_THREADS", "nonsense", 1);
  EXPECT_GE(thread_count(), 1u);
  if (before)
    setenv("SIEVELIGHT_THREADS", kept.c_str(), 1);
  else
    unsetenv("SIEVELIGHT_THREADS");
}

}  // namespace
}  // namespace sievelight
