// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/dead_time.hpp"

#include "reduce/synthetic.hpp"

#include <numbers>

namespace sievelight {
namespace {

using namespace synthetic;
constexpr auto non = DeadTimeModel::non_paralyzable;
constexpr auto par = DeadTimeModel::paralyzable;

// Source: Knoll's two models evaluated in closed form (reference values 7.1); tolerance: the digits given.
TEST(DeadTime, ReproducesTheClosedForms) {
  EXPECT_NEAR(recorded_rate(1e6, {100e-9, non}), 909090.909, 1e-3);
  EXPECT_NEAR(true_rate(5e5, {120e-9, non}), 531914.894, 1e-3);
  EXPECT_NEAR(recorded_rate(1e6, {100e-9, par}), 904837.418, 1e-3);
  EXPECT_NEAR(true_rate(9e5, {100e-9, par}), 994063.528, 1e-3);
  EXPECT_NEAR(true_rate(5e5, {120e-9, par}), 533026.578, 1e-3);
  EXPECT_NEAR(recorded_rate(1e7, {100e-9, par}), 3678794.41, 1e-2);  // the peak, n tau = 1
}

TEST(DeadTime, GoesThereAndBackAgain) {
  for (const auto model : {non, par})
    for (const double n : {0.0, 1.0, 1e3, 1e6, 8e6}) {
      const DeadTime d{100e-9, model};
      EXPECT_NEAR(true_rate(recorded_rate(n, d), d), n, 1e-12 * n);
    }
}

// Arrival times are drawn one by one and the counter misses those that fall into its dead time: an independent model.
// 4000 exposures: mean known to sd/sqrt(4000), variance to sqrt(2/4000) = 2.2 %; limits are 4 standard deviations.
TEST(DeadTime, RecoversTheMeanAndTheVarianceOfASimulatedCounter) {
  std::mt19937_64 random(20250301);
  for (const auto model : {non, par}) {
    const double n = 3e5, tau = 1e-6, exposure = 2e-3;  // n tau = 0.3, 600 true counts
    std::exponential_distribution<double> wait(n);
    const int repeats = 4000;
    double sum = 0, square = 0, claimed = 0;
    for (int r = 0; r < repeats; ++r) {
      double now = -20 * tau, free = now;  // starts before the exposure, in the steady state
      int recorded = 0;
      for (;;) {
        now += wait(random);
        if (now > exposure) break;
        const bool counted = now >= free;
        if (counted && now >= 0) ++recorded;
        if (counted || model == par) free = now + tau;
      }
      const TrueCounts c = correct_dead_time(recorded, exposure, {tau, model});
      sum += c.counts;
      square += c.counts * c.counts;
      claimed += c.variance / repeats;
    }
    const double mean = sum / repeats, variance = square / repeats - mean * mean;
    // The correction is curved, so its mean is off by half the curvature times the variance: below 1 count here.
    EXPECT_NEAR(mean, n * exposure, 4 * std::sqrt(variance / repeats) + 1.0);
    EXPECT_NEAR(variance / claimed, 1.0, 4 * std::sqrt(2.0 / repeats) + 0.01);
  }
}

TEST(DeadTime, RefusesRatesThatTheCounterCannotRecord) {
  const std::string text = message<InputError>([] { true_rate(1e7, {100e-9, non}); });
  EXPECT_HOLDS(text, "1e+07 counts/s is not possible with a non-paralyzable dead time of 1e-07 s");
  EXPECT_HOLDS(message<InputError>([] { true_rate(3.7e6, {100e-9, par}); }), "the most is 3.67879e+06");
  EXPECT_NO_THROW(true_rate(3.67e6, {100e-9, par}));
  EXPECT_HOLDS(message<InputError>([] { true_rate(1.0, {-1e-9, non}); }), "dead time is -1e-09 s");
}

}  // namespace
}  // namespace sievelight
