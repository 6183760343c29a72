// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/equivalence.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

// Worked example (reference table 11, by SciPy; nm): A, B, margin 0.20.
Eigen::VectorXd sample_a() { return (Eigen::VectorXd(6) << 8.12, 8.05, 8.21, 8.09, 8.16, 8.11).finished(); }
Eigen::VectorXd sample_b() { return (Eigen::VectorXd(6) << 8.18, 8.08, 8.24, 8.15, 8.20, 8.13).finished(); }

TEST(Equivalence, AgreesWithTheWorkedExamplePooled) {
  const EquivalenceTest t = equivalence_test(sample_a(), sample_b(), {-0.20, 0.20}, TwoSamples::pooled);
  EXPECT_NEAR(t.difference, 0.04, 1e-12);
  EXPECT_NEAR(t.standard_error, 0.0322834667, 1e-10);
  EXPECT_EQ(t.degrees_of_freedom, 10.0);
  EXPECT_NEAR(t.t_low, 7.43414585, 1e-8);
  EXPECT_NEAR(t.t_high, -4.95609723, 1e-8);
  EXPECT_NEAR(t.p_low, 1.11269992e-5, 1e-13);
  EXPECT_NEAR(t.p_high, 2.86666882e-4, 1e-12);
  EXPECT_NEAR(t.p_equivalent, 2.86666882e-4, 1e-12);
  EXPECT_NEAR(t.verdict_interval.low, -0.01851253, 1e-8);
  EXPECT_NEAR(t.verdict_interval.high, 0.09851253, 1e-8);
  EXPECT_TRUE(t.equivalent);
  EXPECT_FALSE(t.different);
}

TEST(Equivalence, AgreesWithTheWorkedExampleOfWelch) {
  const EquivalenceTest t = equivalence_test(sample_a(), sample_b(), {-0.20, 0.20});
  EXPECT_NEAR(t.degrees_of_freedom, 9.9995908533, 1e-9);
  EXPECT_NEAR(t.p_equivalent, 2.86701870e-4, 1e-12);
  EXPECT_NEAR(t.verdict_interval.low, -0.01851277, 1e-8);
  EXPECT_NEAR(t.verdict_interval.high, 0.09851277, 1e-8);
}

TEST(Equivalence, AgreesWithTheWorkedExampleAtSmallerMargins) {
  const auto p = [](double margin, TwoSamples kind) {
    return equivalence_test(sample_a(), sample_b(), {-margin, margin}, kind).p_equivalent;
  };
  EXPECT_NEAR(p(0.10, TwoSamples::pooled), 0.04636874, 1e-8);
  EXPECT_NEAR(p(0.05, TwoSamples::pooled), 0.38155249, 1e-8);
  const EquivalenceTest paired = equivalence_test(sample_a(), sample_b(), {-0.10, 0.10}, TwoSamples::paired);
  EXPECT_NEAR(paired.standard_error, 0.00683130, 1e-8);
  EXPECT_NEAR(paired.p_equivalent, 1.58683439e-4, 1e-12);
}

TEST(Equivalence, AgreesWithTheWorkedRatioOfMeans) {
  const Eigen::VectorXd a = sample_a().array().log(), b = sample_b().array().log();
  const EquivalenceTest t = equivalence_test(a, b, {std::log(1.0 / 1.05), std::log(1.05)}, TwoSamples::pooled);
  EXPECT_NEAR(std::exp(t.difference), 1.00492399, 1e-8);
  EXPECT_NEAR(t.p_equivalent, 3.10426e-7, 1e-12);
}

// "No difference found" (p 0.24362944) is not "equivalent": at a margin of 0.05 it is neither.
TEST(Equivalence, TellsNoDifferenceFoundFromEquivalent) {
  const EquivalenceTest t = equivalence_test(sample_a(), sample_b(), {-0.05, 0.05}, TwoSamples::pooled);
  EXPECT_NEAR(t.t_zero, 1.23902431, 1e-8);
  EXPECT_NEAR(t.p_zero, 0.24362944, 1e-8);
  EXPECT_FALSE(t.significant);
  EXPECT_FALSE(t.equivalent);
  EXPECT_FALSE(t.different);
}

// Properties: the interval and the p-value say the same; equivalent and different exclude each other.
TEST(Equivalence, DecidesByIntervalAsByP) {
  for (double d = -0.3; d <= 0.3; d += 0.013)
    for (double degrees : {1.3, 5.0, 1e9}) {
      const EquivalenceTest t = equivalence_test(d, 0.03, degrees, {-0.1, 0.1});
      EXPECT_EQ(t.equivalent, t.p_equivalent < 0.05);
      EXPECT_EQ(t.different, t.p_different < 0.05);
      EXPECT_EQ(t.significant, t.p_zero < 0.05);
      EXPECT_FALSE(t.equivalent && t.different);
    }
}

TEST(Equivalence, RefusesSamplesWithoutScatter) {
  const Eigen::VectorXd same = Eigen::VectorXd::Constant(3, 8.0);
  try {
    equivalence_test(same, same, {-0.1, 0.1});
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.mend().find("do not scatter"), std::string::npos);
  }
  EXPECT_THROW(equivalence_test(same.head(1), same, {-0.1, 0.1}), InputError);
  EXPECT_THROW(equivalence_test(same, same.head(2), {-0.1, 0.1}, TwoSamples::paired), InputError);
  EXPECT_THROW(equivalence_test(0.0, 1.0, 5.0, {0.1, -0.1}), InputError);
  EXPECT_THROW(equivalence_test(0.0, 1.0, 5.0, {-0.1, 0.1}, 0.7), InputError);
}

}  // namespace
}  // namespace sievelight
