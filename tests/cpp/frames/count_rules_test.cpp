// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/count_rules.hpp"

#include "sievelight/base/hdf5.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace sievelight {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();

template <typename T>
struct Result {
  std::vector<double> counts;
  std::vector<char> masked;
  CountTally tally;
};

template <typename T>
Result<T> add(hid_t type, const std::vector<T>& values, double saturation = never) {
  const auto lock = hdf5_lock();
  Result<T> out{std::vector<double>(values.size(), 10.0), {}, {}};
  const std::unique_ptr<bool[]> masked(new bool[values.size()]());
  add_counts(describe_type(type, "it"), reinterpret_cast<const unsigned char*>(values.data()), values.size(),
             saturation, out.counts.data(), masked.get(), out.tally);
  out.masked.assign(masked.get(), masked.get() + values.size());
  return out;
}

TEST(CountRules, AddCountsAndMaskMarkersOfSignedIntegers) {
  const auto r = add<int>(H5T_NATIVE_INT, {0, 7, -1, -2, 2147483647, 2147483646});
  EXPECT_EQ(r.counts, (std::vector<double>{10, 17, 10, 10, 10, 10 + 2147483646.0}));
  EXPECT_EQ(r.masked, (std::vector<char>{0, 0, 1, 1, 1, 0}));
  EXPECT_EQ(r.tally.markers, 3u);
}

TEST(CountRules, MaskTheLargestUnsignedNumbers) {
  const auto wide = add<unsigned>(H5T_NATIVE_UINT, {4294967295u, 4294967294u, 4294967293u});
  EXPECT_EQ(wide.masked, (std::vector<char>{1, 1, 0}));
  const auto narrow = add<unsigned short>(H5T_NATIVE_USHORT, {65535, 65534});
  EXPECT_EQ(narrow.masked, (std::vector<char>{1, 0}));
  const auto huge = add<unsigned long long>(H5T_NATIVE_ULLONG, {1ull << 53, (1ull << 53) - 1});
  EXPECT_EQ(huge.masked, (std::vector<char>{1, 0}));
  EXPECT_EQ(huge.counts[1], 10 + 9007199254740991.0);
}

TEST(CountRules, MaskSaturationPerExposureAndKeepItsCounts) {
  for (const double saturation : {100.0, 99.5}) {
    const auto r = add<int>(H5T_NATIVE_INT, {99, 100, 101, -1}, saturation);
    EXPECT_EQ(r.masked, (std::vector<char>{0, 1, 1, 1})) << saturation;
    EXPECT_EQ(r.counts[1], 110);
    EXPECT_EQ(r.tally.saturated, 2u);
    EXPECT_EQ(r.tally.markers, 1u);
  }
  EXPECT_EQ(add<float>(H5T_NATIVE_FLOAT, {99, 100}, 100).masked, (std::vector<char>{0, 1}));
  EXPECT_EQ(add<signed char>(H5T_NATIVE_SCHAR, {126, 127}, 1e6).masked, (std::vector<char>{0, 1}));
}

TEST(CountRules, SortOutFloats) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const auto r = add<double>(H5T_NATIVE_DOUBLE, {3, 2.5, nan, never, -never, -1, -0.25, 1e300});
  EXPECT_EQ(r.masked, (std::vector<char>{0, 0, 1, 1, 1, 1, 1, 1}));
  EXPECT_EQ(r.counts, (std::vector<double>{13, 12.5, 10, 10, 10, 10, 10, 10}));
  EXPECT_EQ(r.tally.not_finite, 4u);
  EXPECT_EQ(r.tally.markers, 1u);
  EXPECT_EQ(r.tally.negative_fractional, 1u);
  EXPECT_EQ(r.tally.fractional, 1u);
  EXPECT_EQ(describe(r.tally, never).size(), 3u);
}

TEST(CountRules, ReadTheOtherByteOrder) {
  const hid_t other = H5Tget_order(H5T_NATIVE_INT) == H5T_ORDER_LE ? H5T_STD_I32BE : H5T_STD_I32LE;
  EXPECT_EQ(add<unsigned>(other, {0x01020000u}).counts[0], 10 + 0x0201);
}

TEST(CountRules, TellWhetherAllAreCounts) {
  std::vector<double> numbers(19, 2.5);
  numbers[3] = 0.0;
  numbers[4] = 1e300;
  EXPECT_TRUE(all_counts(numbers.data(), 19));
  EXPECT_TRUE(all_counts(numbers.data(), 0));
  for (const double bad : {-1.0, never, -never, std::numeric_limits<double>::quiet_NaN()})
    for (std::size_t i = 0; i < numbers.size(); ++i) {
      std::vector<double> wrong = numbers;
      wrong[i] = bad;
      EXPECT_FALSE(all_counts(wrong.data(), 19)) << bad << " at " << i;
    }
}

TEST(CountRules, SayWhatWasMasked) {
  const auto words = describe(CountTally{3, 2, 0, 0, 0}, 1e6);
  ASSERT_EQ(words.size(), 2u);
  EXPECT_EQ(words[0], "3 numbers at or above the saturation value 1e+06 masked");
  EXPECT_TRUE(describe(CountTally{}, never).empty());
}

}  // namespace
}  // namespace sievelight
