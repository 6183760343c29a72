// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/sizing.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/compare/batches.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace sievelight {
namespace {

// Source of the check: the power of two one-sided t tests with equal variances and true difference zero, by their exact
// distribution, needs about n = 2 (t_alpha + t_(1-power)/2)^2 (sd/margin)^2 a group (H. Schuirmann 1987; S. A. Julious,
// Stat. Med. 23 (2004) 1921, from memory): sd = margin, alpha 0.05, power 0.8 gives 18.
TEST(Sizing, AgreesWithThePublishedApproximation) {
  const Sizing s = size_experiment({.between_sd = 0.05, .margin = 0.05});
  ASSERT_TRUE(s.samples.has_value());
  EXPECT_NEAR(*s.samples, 18, 2);
}

// What it promises, the comparison of batches delivers: 500 experiments of that size, 3 standard deviations.
TEST(Sizing, IsKeptByTheComparison) {
  const SizingInput in{.between_sd = 0.02,
                       .scatter_degrees = 0,
                       .own_u = 0.01,
                       .shared_u = 0,
                       .difference = 0.0,
                       .margin = std::log(1.05)};
  const Sizing s = size_experiment(in);
  ASSERT_TRUE(s.samples.has_value());
  const int n = *s.samples;
  std::mt19937_64 random(8);
  std::normal_distribution<double> normal;
  std::vector<std::string> names, batches;
  for (int k = 0; k < 2 * n; ++k) {
    names.push_back(std::to_string(k));
    batches.push_back(k < n ? "A" : "B");
  }
  BatchOptions options;
  options.reference = "A";
  int decided = 0;
  for (int e = 0; e < 500; ++e) {
    Eigen::VectorXd values(2 * n);
    for (double& y : values) y = 10 * std::exp(0.02 * normal(random) + 0.01 * normal(random));
    const Eigen::MatrixXd v = (1e-4 * values.array().square()).matrix().asDiagonal();
    if (compare_batches(names, batches, values, v, options).pairs[0].verdict != "undecided") ++decided;
  }
  const double promised = 1 - s.steps.back().undecided;
  EXPECT_NEAR(decided / 500.0, promised, 3 * std::sqrt(promised * (1 - promised) / 500) + 0.02);
}

TEST(Sizing, ALargeDifferenceNeedsFewAndOneAtTheMarginNone) {
  EXPECT_LE(size_experiment({.between_sd = 0.02, .difference = 0.12, .margin = 0.05}).samples.value(), 5);
  const Sizing never = size_experiment({.between_sd = 0.02, .difference = 0.05, .margin = 0.05});
  EXPECT_FALSE(never.samples.has_value());
  EXPECT_GT(never.steps.back().undecided, 0.8);  // each verdict has its 5 %
}

TEST(Sizing, SaysWhenSamplesAreNotWhatIsMissing) {
  const Sizing s = size_experiment({.between_sd = 0.01, .shared_u = 0.05, .margin = 0.05});
  EXPECT_TRUE(s.limited_by_shared);
  EXPECT_FALSE(s.samples.has_value());
}

// 80 % upper limit of a standard deviation from 2 degrees of freedom: sqrt(2 / 0.446) = 2.117 (chi^2 table: 20 % point
// of 2 degrees is 0.446), so the numbers are those of a scatter that much larger.
TEST(Sizing, DoesNotTrustTheScatterOfFewSamples) {
  const Sizing few = size_experiment({.between_sd = 0.02, .scatter_degrees = 2, .margin = 0.05});
  const Sizing known = size_experiment({.between_sd = 0.02 * 2.117, .margin = 0.05});
  EXPECT_EQ(few.samples, known.samples);
  EXPECT_GT(few.samples.value(), size_experiment({.between_sd = 0.02, .margin = 0.05}).samples.value());
}

// Three planned looks need a few samples more at the last one than a single look, and fewer on average. For known
// variance the O'Brien-Fleming limits raise the number by some 2 % (Jennison and Turnbull 2000, table 2.4, from
// memory).
TEST(Sizing, PlannedLooksCostLittleAndSaveSamples) {
  SizingInput in{.between_sd = 0.03, .margin = std::log(1.05)};
  const Sizing fixed = size_experiment(in);
  in.looks = 3;
  const Sizing looked = size_experiment(in);
  ASSERT_TRUE(fixed.samples && looked.samples);
  EXPECT_GE(*looked.samples, *fixed.samples - 1);
  EXPECT_LE(*looked.samples, *fixed.samples + 2);
  const SizingStep& step = looked.steps.back();
  EXPECT_EQ(step.looks.size(), 3u);
  EXPECT_EQ(step.looks.back(), *looked.samples);
  EXPECT_LT(step.mean_samples, 0.97 * *looked.samples);
  EXPECT_EQ(fixed.steps.back().mean_samples, *fixed.samples);
  in.difference = std::log(1.05);  // at the margin either verdict is false, each at most at 5 %
  in.most_samples = 12;
  for (const SizingStep& s : size_experiment(in).steps) {
    EXPECT_LT(s.equivalent, 0.065);
    EXPECT_LT(s.different, 0.065);
  }
}

TEST(Sizing, RefusesNonsense) {
  EXPECT_THROW(size_experiment({.between_sd = -1}), InputError);
  EXPECT_THROW(size_experiment({.between_sd = 0.1, .margin = 0}), InputError);
  EXPECT_THROW(size_experiment({}), InputError);
  EXPECT_THROW(size_experiment({.between_sd = 0.1, .looks = 0}), InputError);
}

}  // namespace
}  // namespace sievelight
