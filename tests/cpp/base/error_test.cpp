// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

TEST(Error, SaysTheProblemAndThenTheMend) {
  const InputError error("transmission is 1.34; it must lie in (0, 1].", "Check that the counts are not swapped.");
  EXPECT_STREQ(error.what(), "transmission is 1.34; it must lie in (0, 1].\nCheck that the counts are not swapped.");
  EXPECT_EQ(error.problem(), "transmission is 1.34; it must lie in (0, 1].");
  EXPECT_EQ(error.mend(), "Check that the counts are not swapped.");
  EXPECT_STREQ(DataError("broken.", "").what(), "broken.");
}

TEST(Error, AreOneFamilyOfThree) {
  EXPECT_THROW(throw InputError("a", "b"), Error);
  EXPECT_THROW(throw DataError("a", "b"), Error);
  EXPECT_THROW(throw NumericalError("a", "b"), std::runtime_error);
}

}  // namespace
}  // namespace sievelight
