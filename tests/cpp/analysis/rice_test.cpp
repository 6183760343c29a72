// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/rice.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

// Source: Rayleigh's distribution, the closed form of Rice's for a = 0: 1 - exp(-r^2/2).
TEST(Rice, IsRayleighForNoiseAlone) {
  for (const double r : {0.0, 0.3, 1.0, 2.5, 6.0}) EXPECT_NEAR(rice_cdf(r, 0.0), -std::expm1(-0.5 * r * r), 1e-9);
}

// Source: series of the noncentral chi-square of two degrees of freedom, P = sum_j Poisson(j; a^2/2) P(chi2_{2 + 2j} <=
// r^2), and P(chi2_{2m} <= y) = 1 - exp(-y/2) sum_{i<m} (y/2)^i/i!; the limit is that of the quadrature.
TEST(Rice, IsTheNoncentralChiSquareOfTheSquare) {
  for (const double a : {0.7, 3.0, 8.0})
    for (const double r : {0.5, 2.0, 4.0, 9.0}) {
      double sum = 0, weight = std::exp(-0.5 * a * a), term = std::exp(-0.5 * r * r), below = 0;
      for (int j = 0; j < 300; ++j) {
        below += term;
        sum += weight * (1 - below);
        weight *= 0.5 * a * a / (j + 1);
        term *= 0.5 * r * r / (j + 1);
      }
      EXPECT_NEAR(rice_cdf(r, a), sum, 1e-8) << a << " " << r;
    }
  // Beyond a = 1000 the normal limit takes over: no step there.
  EXPECT_NEAR(rice_cdf(1000.5, 1000.0), rice_cdf(1000.5001, 1000.0001), 1e-5);
}

// Counting: the interval holds the true length in 68 % of draws; at length zero in more (84 %), because lengths are not
// negative. 4000 draws: four standard deviations are 3 %.
TEST(Rice, IntervalsHoldTheTrueLengthAtAnyLength) {
  std::mt19937_64 random(5);
  std::normal_distribution<double> noise;
  for (const double a : {0.0, 0.5, 1.0, 2.0, 5.0, 50.0}) {
    int inside = 0;
    const int draws = 4000;
    // Intervals depend on r alone and rise with it: find the r that hold `a`, then count.
    for (int i = 0; i < draws; ++i) {
      const double r = std::hypot(a + noise(random), noise(random));
      const double p = rice_cdf(r, a);
      inside += p >= 0.16 && p <= 0.84;
      if (i < 5) {  // the interval is that set of lengths
        const Range b = rice_interval(r, 0.68);
        EXPECT_EQ(b.contains(a), p <= 0.84 && (p >= 0.16 || a == 0.0)) << a << " " << r;
      }
    }
    EXPECT_NEAR(static_cast<double>(inside) / draws, 0.68, 0.03) << a;
  }
}

TEST(Rice, RefusesWhatIsNotALength) {
  EXPECT_NE(refusal<InputError>([] { rice_cdf(-1, 0); }).find("the lengths are -1 and 0"), std::string::npos);
  EXPECT_NE(refusal<InputError>([] { rice_interval(1, 1.5); }).find("confidence level is 1.5"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
