// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/tabulated.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/cylinder.hpp"
#include "sievelight/distribution/spheroid.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

// Between the points and away from minima the table must be as good as the form factor itself.
TEST(Tabulated, ReadsTheFormFactor) {
  for (const Shape& shape : {spheroid(0.3), spheroid(4.0), cylinder(5.0)}) {
    const Shape table = tabulated(shape, 400.0);
    EXPECT_FALSE(table.tabulate);
    for (const double x : {0.0, 0.013, 0.9, 7.77, 51.3, 200.1, 399.99})
      EXPECT_NEAR(table.form_factor(0.5 * x, 2.0) / shape.form_factor(x, 1.0), 1.0, 1e-9) << shape.name << " " << x;
  }
}

TEST(Tabulated, EndsWhereItWasAskedToEnd) {
  EXPECT_THROW(tabulated(spheroid(2.0), 10.0).form_factor(1.0, 10.1), InputError);
}

}  // namespace
}  // namespace sievelight
