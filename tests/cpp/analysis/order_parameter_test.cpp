// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/order_parameter.hpp"

#include "analysis/profiles.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using namespace synthetic;

// Closed form: <cos^2> of I = cos^2n phi weighted by |sin phi| is (2n + 1)/(2n + 3), so S2 = 2n/(2n + 3). Parabolas
// through bins of 1 and 10 degrees: off by the fourth derivative, (2 n)^2 w^4 or so.
TEST(OrderParameter, OfPowersOfTheCosine) {
  for (const int n : {1, 2, 5, 20})
    for (const double director : {0.0, 30.0, 77.5, 170.25}) {
      const auto p = profile(360, 1e6, [&](double chi) { return std::pow(std::cos(chi - radians(director)), 2 * n); });
      EXPECT_NEAR(order_parameter(p, director)->value, 2.0 * n / (2 * n + 3), 2e-4 * n) << n << " " << director;
    }
}

// Closed forms: a ring has 0; all intensity along the director tends to 1, all across it to -1/2.
TEST(OrderParameter, OfTheLimits) {
  const auto at = [](double centre) {
    return profile(720, 1e6, [=](double chi) { return std::exp(-std::pow(std::sin(chi - centre) / 0.01, 2)); });
  };
  EXPECT_NEAR(order_parameter(profile(36, 1e6, [](double) { return 3.0; }), 12.3)->value, 0.0, 1e-12);
  // Along the director the weight sin phi pushes the mean angle out: phi ~ 0.01, 1.5 phi^2 and the bin's width.
  EXPECT_NEAR(order_parameter(at(0.0), 0.0)->value, 1.0, 1e-3);
  EXPECT_NEAR(order_parameter(at(pi / 2), 0.0)->value, -0.5, 1e-3);
}

TEST(OrderParameter, FoldsOverGapsAndIsAbsentWhereOneStaysOpen) {
  const auto p = profile(360, 1e6, [](double chi) { return std::pow(std::cos(chi - 0.7), 4); });
  const double whole = order_parameter(p, degrees(0.7))->value;
  // One quadrant holds all.
  const auto quarter = part(p, [](double deg) { return deg > 38 && deg < 133; });
  EXPECT_NEAR(order_parameter(quarter, degrees(0.7))->value, whole, 1e-3);
  EXPECT_FALSE(order_parameter(part(p, [](double deg) { return deg < 60; }), degrees(0.7)).has_value());
}

TEST(OrderParameter, InfluenceIsItsDerivative) {
  auto p = profile(72, 1e4, [](double chi) { return 1 + 0.8 * std::cos(2 * chi); });
  const auto base = *order_parameter(p, 5.0);
  for (const Eigen::Index i : {0, 7, 30}) {
    const double step = 1e-6;
    p.intensity[i] += step;
    EXPECT_NEAR((order_parameter(p, 5.0)->value - base.value) / step, base.influence[i], 1e-7);
    p.intensity[i] -= step;
  }
}

}  // namespace
}  // namespace sievelight
