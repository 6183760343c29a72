// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/even_product.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Closed form: integral_0^1 cos(a u) cos(b u) du = [sin(a - b)/(a - b) + sin(a + b)/(a + b)]/2.
TEST(EvenProduct, IntegratesAProductOfCosines) {
  for (const double a : {0.5, 30.0, 1000.0}) {
    EvenProduct product([a](double u) { return std::cos(a * u); }, a, 800.0);
    for (const double b : {0.1, 3.0, 20.0, 90.0, 250.0, 800.0}) {
      const double expected = 0.5 * (std::sin(a - b) / (a - b) + std::sin(a + b) / (a + b));
      EXPECT_NEAR(product.integral([b](double u) { return std::cos(b * u); }, b), expected, 1e-12) << a << " " << b;
    }
  }
}

}  // namespace
}  // namespace sievelight
