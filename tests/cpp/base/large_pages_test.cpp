// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/large_pages.hpp"

#include <gtest/gtest.h>

#include <numeric>
#include <vector>

namespace sievelight {
namespace {

// A wish must change no number, at any size and place.
TEST(LargePages, LeaveTheContentAlone) {
  for (const std::size_t n : {1u, 1000u, 600000u, 3000001u}) {
    std::vector<double> numbers(n);
    std::iota(numbers.begin(), numbers.end(), 0.0);
    prefer_large_pages(numbers);
    prefer_large_pages(numbers.data() + n / 3, n / 3 * sizeof(double));
    for (std::size_t i = 0; i < n; ++i) ASSERT_EQ(numbers[i], static_cast<double>(i));
  }
  prefer_large_pages(nullptr, 0);
}

}  // namespace
}  // namespace sievelight
