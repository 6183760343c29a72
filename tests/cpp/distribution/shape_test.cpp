// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/shape.hpp"

#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

// Source: the first zero of a sphere is at q R = 4.493409457909064 (tan x = x): for a diameter of 20 nm at q = 0.4493
// 1/nm.
TEST(Shape, OfASphereTakesADiameter) {
  const Shape shape = sphere();
  EXPECT_EQ(shape.name, "sphere");
  EXPECT_NEAR(shape.form_factor(0.4493409457909064, 20.0), 0.0, 1e-20);
  EXPECT_DOUBLE_EQ(shape.volume_nm3(20.0), 4.0 / 3.0 * pi * 1000.0);
}

}  // namespace
}  // namespace sievelight
