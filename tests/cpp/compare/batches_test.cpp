// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/batches.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/compare/equivalence.hpp"
#include "sievelight/compare/student.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace sievelight {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;
using Names = std::vector<std::string>;

// n samples in each of k batches "B0", "B1", ...
Names batch_names(int batches, int n) {
  Names out;
  for (int b = 0; b < batches; ++b) out.insert(out.end(), n, fmt::format("B{}", b));
  return out;
}
Names sample_names(std::size_t n) {
  Names out;
  for (std::size_t i = 0; i < n; ++i) out.push_back(fmt::format("s{}", i));
  return out;
}
BatchComparison compare(const VectorXd& values, const Names& batches, const MatrixXd& covariance,
                        BatchOptions options = {}) {
  if (options.reference.empty()) options.reference = batches[0];
  return compare_batches(sample_names(batches.size()), batches, values, covariance, options);
}
MatrixXd none(Eigen::Index n) { return MatrixXd::Zero(n, n); }
// Private variance p on the diagonal, one shared error of variance c for all.
MatrixXd shared(Eigen::Index n, double p, double c) {
  return MatrixXd::Constant(n, n, c) + p * MatrixXd::Identity(n, n);
}

const VectorXd worked =
    (VectorXd(12) << 8.12, 8.05, 8.21, 8.09, 8.16, 8.11, 8.18, 8.08, 8.24, 8.15, 8.20, 8.13).finished();

// Without measurement errors the pair is Welch's two one-sided tests on logarithms (reference table 11: ratio of
// geometric means 1.00492399).
TEST(Batches, AreTheTwoOneSidedTestsWhenOnlyScatterCounts) {
  const BatchComparison r = compare(worked, batch_names(2, 6), none(12));
  ASSERT_EQ(r.pairs.size(), 1u);
  const BatchPair& p = r.pairs[0];
  const VectorXd a = worked.head(6).array().log(), b = worked.tail(6).array().log();
  const EquivalenceTest t = equivalence_test(a, b, {-std::log(1.05), std::log(1.05)});
  EXPECT_NEAR(p.difference_percent, 0.492399, 1e-6);
  EXPECT_NEAR(p.p_equivalent, t.p_equivalent, 1e-15);
  EXPECT_NEAR(p.degrees_of_freedom, t.degrees_of_freedom, 1e-9);
  EXPECT_NEAR(p.difference_percent_low, 100 * std::expm1(t.interval95.low), 1e-10);
  EXPECT_NEAR(p.verdict_percent_high, 100 * std::expm1(t.verdict_interval.high), 1e-10);
  EXPECT_EQ(p.verdict, "equivalent");
  EXPECT_FALSE(p.difference_significant);
  EXPECT_EQ(p.batch, "B1");
  EXPECT_EQ(r.batches[0].samples, 6);
  EXPECT_NEAR(r.batches[0].mean.value, std::exp(a.mean()), 1e-12);
}

TEST(Batches, OnPlainValuesAreWelchToo) {
  const BatchComparison r = compare(worked, batch_names(2, 6), none(12), {.margin = 0.2 / 8.1233333333, .log = false});
  // Margin 0.20 nm of the reference's mean: the worked p-value (reference table 11).
  EXPECT_NEAR(r.pairs[0].p_equivalent, 2.86701870e-4, 1e-11);
  EXPECT_NEAR(r.pairs[0].difference_percent, 100 * 0.04 / 8.1233333333, 1e-7);
  EXPECT_NEAR(r.batches[0].between_sample_sd, 0.05573747991, 1e-10);
}

// A balanced random-effects table by hand: the between-sample variance is the scatter less the measurement variance,
// (MSB - MSW) / n in textbook form with n repeats a sample: here three samples of two repeats 1 3 | 5 7 | 9 11, so MSW
// = 2, MSB = 2 * var(2, 6, 10) = 32, (32 - 2) / 2 = 15; the means 2, 6, 10 carry measurement variance MSW / 2 = 1 each.
TEST(Batches, TakeTheMeasurementVarianceOutOfTheScatter) {
  VectorXd values(5);
  values << 2, 6, 10, 5, 6;
  Names batches{"A", "A", "A", "B", "B"};
  const BatchComparison r = compare(values, batches, shared(5, 1.0, 0.0), {.log = false});
  EXPECT_NEAR(r.batches[0].between_sample_sd, std::sqrt(15.0), 1e-12);
  EXPECT_NEAR(r.batches[0].mean.u, std::sqrt(16.0 / 3.0), 1e-12);
  // B scatters by 0.5, less than the measurement error of variance 1 explains: no sample scatter, and not surer for it.
  EXPECT_EQ(r.batches[1].between_sample_sd, 0.0);
  EXPECT_NEAR(r.batches[1].mean.u, std::sqrt(1.0 / 2.0), 1e-12);
  EXPECT_GT(r.batches[1].between_sample_sd95.high, 1.0);
}

TEST(Batches, CancelWhatAllSamplesShareAndKeepItInTheMeans) {
  const Names batches = batch_names(2, 3);
  VectorXd values(6);
  values << 8.0, 8.1, 8.05, 8.2, 8.1, 8.15;
  const BatchComparison bare = compare(values, batches, none(6));
  // 3 % of every value, one error for all: on logarithms a constant 0.03^2.
  const BatchComparison r = compare(values, batches, 9e-4 * values * values.transpose());
  EXPECT_NEAR(r.pairs[0].standard_error_percent, bare.pairs[0].standard_error_percent, 1e-9);
  EXPECT_NEAR(r.pairs[0].p_equivalent, bare.pairs[0].p_equivalent, 1e-12);
  EXPECT_NEAR(r.batches[0].shared_u, 0.03 * r.batches[0].mean.value, 1e-9);
  EXPECT_GT(r.batches[0].mean.u, 0.03 * r.batches[0].mean.value);
  EXPECT_LT(bare.batches[0].mean.u, 0.01 * r.batches[0].mean.value);
}

// An error that each batch has of its own (measured on different days) shows in no scatter and counts in full.
TEST(Batches, CountAnErrorThatEachBatchHasOfItsOwn) {
  const Names batches = batch_names(2, 3);
  VectorXd values(6);
  values << 8.0, 8.1, 8.05, 8.2, 8.1, 8.15;
  MatrixXd v = none(6);
  v.topLeftCorner(3, 3).setConstant(9e-4 * 64);
  v.bottomRightCorner(3, 3).setConstant(9e-4 * 64);
  const BatchComparison r = compare(values, batches, v);
  EXPECT_GT(r.pairs[0].standard_error_percent, 100 * 0.03 * std::sqrt(2.0) * 0.97);  // 64 stands for 8.0^2 to 8.2^2
  EXPECT_GT(r.pairs[0].shared_share, 0.9);
  EXPECT_EQ(r.pairs[0].verdict, "undecided");
  EXPECT_NE(r.pairs[0].reason.find("do not share"), std::string::npos) << r.pairs[0].reason;
}

TEST(Batches, SayDifferentOnlyBeyondTheMargin) {
  VectorXd values(6);
  values << 8.00, 8.01, 8.02, 8.20, 8.21, 8.22;  // 2.5 % apart, and sure of it
  const BatchPair inside = compare(values, batch_names(2, 3), none(6)).pairs[0];
  EXPECT_TRUE(inside.difference_significant);
  EXPECT_EQ(inside.verdict, "equivalent");
  const BatchPair beyond = compare(values, batch_names(2, 3), none(6), {.margin = 0.01}).pairs[0];
  EXPECT_EQ(beyond.verdict, "different");
  EXPECT_NE(beyond.reason.find("lies outside"), std::string::npos) << beyond.reason;
  const BatchPair across = compare(values, batch_names(2, 3), none(6), {.margin = 0.025}).pairs[0];
  EXPECT_EQ(across.verdict, "undecided");
  EXPECT_NE(across.reason.find("reaches across the margin"), std::string::npos) << across.reason;
}

TEST(Batches, OfOneSampleStayUndecidedUnlessTheScatterIsKnown) {
  const Names batches{"A", "A", "A", "B"};
  VectorXd values(4);
  values << 8.00, 8.01, 8.02, 8.01;
  const MatrixXd v = shared(4, 1e-4, 1e-2);
  const BatchComparison r = compare(values, batches, v);
  EXPECT_EQ(r.pairs[0].verdict, "undecided");
  EXPECT_NE(r.pairs[0].reason.find("B has one sample"), std::string::npos) << r.pairs[0].reason;
  EXPECT_TRUE(std::isnan(r.batches[1].between_sample_sd));
  EXPECT_FALSE(r.batches[1].includes_scatter);
  EXPECT_EQ(compare(values, batches, v, {.single_samples = true}).pairs[0].verdict, "equivalent");
  const BatchComparison pooled = compare(values, batches, v, {.scatter = Scatter::pooled});
  EXPECT_EQ(pooled.pairs[0].verdict, "equivalent");
  EXPECT_TRUE(pooled.batches[1].includes_scatter);
  // What both share, 0.1 nm, cancels here as well.
  EXPECT_LT(pooled.pairs[0].standard_error_percent, 0.3);
}

// Pooled: one variance (0.5 + 2 * 2) ... by hand on plain values, no measurement error: S^2 = 0.5 (1 df) and 1 (2 df),
// pooled (0.5 + 2) / 3, SE^2 = pooled (1/2 + 1/3), 3 degrees of freedom.
TEST(Batches, PoolTheScatterWhenAsked) {
  VectorXd values(5);
  values << 10, 11, 10, 11, 12;
  const BatchComparison r =
      compare(values, {"A", "A", "B", "B", "B"}, none(5), {.log = false, .scatter = Scatter::pooled});
  EXPECT_NEAR(r.pairs[0].degrees_of_freedom, 3.0, 1e-12);
  EXPECT_NEAR(r.pairs[0].standard_error_percent, 100 * std::sqrt(2.5 / 3 * (1.0 / 2 + 1.0 / 3)) / 10.5, 1e-10);
}

TEST(Batches, JudgeSeveralPairsByHolm) {
  // Three pairs with the same scatter: surely equal, probably equal, far away.
  VectorXd values(12);
  values << 8.00, 8.02, 8.04, 8.01, 8.02, 8.03, 8.20, 8.24, 8.28, 9.00, 9.02, 9.04;
  const BatchComparison r = compare(values, batch_names(4, 3), none(12));
  ASSERT_EQ(r.pairs.size(), 3u);
  EXPECT_EQ(r.pairs[0].verdict, "equivalent");
  EXPECT_EQ(r.pairs[2].verdict, "different");
  std::vector<double> levels;
  for (const BatchPair& p : r.pairs) levels.push_back(p.verdict_level);
  std::sort(levels.begin(), levels.end());
  EXPECT_NEAR(levels[0], 0.05 / 3, 1e-15);
  EXPECT_NEAR(levels[1], 0.05 / 2, 1e-15);
  EXPECT_NEAR(levels[2], 0.05, 1e-15);
  EXPECT_NE(r.pairs[2].reason.find("Holm over 3 pairs"), std::string::npos) << r.pairs[2].reason;
  for (const BatchPair& p : r.pairs) EXPECT_GE(p.p_zero_holm, p.p_zero);
}

TEST(Batches, DoNotDependOnTheUnitOrTheOrder) {
  VectorXd values(6);
  values << 8.0, 8.1, 8.05, 8.2, 8.1, 8.15;
  const MatrixXd v = shared(6, 1e-4, 1e-3);
  const BatchPair p = compare(values, batch_names(2, 3), v).pairs[0];
  const BatchPair scaled = compare(10 * values, batch_names(2, 3), 100 * v).pairs[0];
  EXPECT_NEAR(scaled.difference_percent_low, p.difference_percent_low, 1e-9);
  // Swapped: the ratio's inverse.
  const BatchPair swapped = compare(values, batch_names(2, 3), v, {.reference = "B1"}).pairs[0];
  EXPECT_NEAR((1 + swapped.difference_percent_high / 100) * (1 + p.difference_percent_low / 100), 1.0, 1e-12);
  EXPECT_NEAR(swapped.p_equivalent, p.p_equivalent, 1e-12);
}

TEST(Batches, SayWhenThereIsNothingToJudgeBy) {
  const BatchPair p = compare(VectorXd::Constant(4, 8.0), batch_names(2, 2), none(4)).pairs[0];
  EXPECT_EQ(p.verdict, "undecided");
  EXPECT_NE(p.reason.find("do not scatter"), std::string::npos);
}

TEST(Batches, RefuseWithNames) {
  VectorXd values(4);
  values << 8.0, 8.1, 8.2, 8.1;
  const Names batches = batch_names(2, 2);
  const auto refuse = [&](const VectorXd& y, const MatrixXd& v, const BatchOptions& o, const std::string& says,
                          const std::string& mend) {
    try {
      compare(y, batches, v, o);
      ADD_FAILURE() << "accepted; expected: " << says;
    } catch (const InputError& error) {
      EXPECT_NE(error.problem().find(says), std::string::npos) << error.problem();
      EXPECT_NE(error.mend().find(mend), std::string::npos) << error.mend();
    }
  };
  refuse(values, none(4), {.reference = "B7"}, "'B7'", "B0, B1");
  refuse(values, none(4), {.margin = 0.0}, "margin is 0 %", "above zero");
  for (const double alpha : {0.0, 0.5, -0.1, std::numeric_limits<double>::quiet_NaN()})
    refuse(values, none(4), {.alpha = alpha}, "between 0 and 0.5", "usual");
  VectorXd bad = values;
  bad[2] = std::numeric_limits<double>::quiet_NaN();
  refuse(bad, none(4), {}, "'s2' is nan", "mend its measurement");
  bad[2] = -1.0;
  refuse(bad, none(4), {}, "'s2' is -1, which has no logarithm", "log = false");
  MatrixXd v = shared(4, 1e-4, 0.0);
  v(0, 1) = v(1, 0) = 1e-2;
  refuse(values, v, {}, "not positive semidefinite", "two variances");
  v = shared(4, 1e-4, 0.0);
  v(0, 1) = 1e-5;
  refuse(values, v, {}, "covariance of 's1' and 's0'", "symmetric");
  EXPECT_THROW(compare(values, {"A", "A", "A", "A"}, none(4)), InputError);
  EXPECT_THROW(compare(values, batches, none(3)), InputError);
}

// Error rates by simulation: samples drawn from the model with a true difference of exactly the margin (either verdict
// is then false) and of zero (significance is false). Nominal 5 %; 4000 draws have a binomial sd of 0.34 %, so 6.5 % is
// what a true 5 % exceeds once in 10^5 and what 5.7 %, the largest rate that longer runs gave, exceeds once in 100
// cells.
struct Rates {
  double equivalent, different, significant, covered, covered_mean;
};

Rates simulate(int n, double scatter, double own, double common, Scatter kind, int draws, std::uint64_t start) {
  std::mt19937_64 random(start);
  std::normal_distribution<double> normal;
  const Names batches = batch_names(2, n), names = sample_names(batches.size());
  const MatrixXd relative = shared(2 * n, own * own, common * common);
  Rates out{};
  for (int k = 0; k < draws; ++k)
    for (bool at_margin : {true, false}) {
      const double all = common * normal(random);
      VectorXd y(2 * n);
      for (int i = 0; i < 2 * n; ++i)
        y[i] = 10 * std::exp((at_margin && i >= n ? std::log(1.05) : 0.0) + all + scatter * normal(random) +
                             own * normal(random));
      const BatchComparison r = compare_batches(names, batches, y, (y * y.transpose()).cwiseProduct(relative),
                                                {.reference = "B0", .scatter = kind});
      const BatchPair& p = r.pairs[0];
      if (at_margin) {
        out.equivalent += p.verdict == "equivalent";
        out.different += p.verdict == "different";
      } else {
        out.significant += p.difference_significant;
        out.covered += p.difference_percent_low <= 0 && p.difference_percent_high >= 0;
        out.covered_mean += r.batches[0].mean.band95.contains(10.0);
      }
    }
  for (double* rate : {&out.equivalent, &out.different, &out.significant, &out.covered, &out.covered_mean})
    *rate /= draws;
  return out;
}

TEST(Batches, KeepTheirErrorRatesWithFewSamples) {
  std::uint64_t start = 1;
  for (Scatter kind : {Scatter::per_batch, Scatter::pooled})
    for (int n : {2, 3, 4})
      for (const auto& [scatter, own] : {std::pair{0.01, 0.0}, {0.01, 0.005}, {0.0, 0.01}}) {
        const Rates r = simulate(n, scatter, own, 0.02, kind, 4000, start++);
        const std::string cell =
            fmt::format("n {}, scatter {}, own {}{}", n, scatter, own, kind == Scatter::pooled ? ", pooled" : "");
        EXPECT_LT(r.equivalent, 0.065) << cell;
        EXPECT_LT(r.different, 0.065) << cell;
        EXPECT_LT(r.significant, 0.07) << cell;
        EXPECT_GT(r.covered, 0.93) << cell;
        // The absolute mean, 2 % of shared error in it: nominal 95 %, four binomial sd below.
        EXPECT_GT(r.covered_mean, 0.936) << cell;
      }
}

// The test can fail: without the floor and the shared part the rates leave these bounds. An error of 2 % that each
// batch has of its own, left out of the covariance, makes far more than 7 % of all true zeros significant.
TEST(Batches, WouldBeTooBoldIfErrorsOfABatchWereLeftOut) {
  std::mt19937_64 random(77);
  std::normal_distribution<double> normal;
  int without = 0, with = 0;
  for (int k = 0; k < 1000; ++k) {
    VectorXd y(6);
    const double day_a = 0.02 * normal(random), day_b = 0.02 * normal(random);
    for (int i = 0; i < 6; ++i) y[i] = 10 * std::exp((i < 3 ? day_a : day_b) + 0.01 * normal(random));
    MatrixXd v = none(6);
    v.topLeftCorner(3, 3).setConstant(4e-4);
    v.bottomRightCorner(3, 3).setConstant(4e-4);
    without += compare(y, batch_names(2, 3), none(6)).pairs[0].difference_significant;
    with += compare(y, batch_names(2, 3), (y * y.transpose()).cwiseProduct(v)).pairs[0].difference_significant;
  }
  EXPECT_GT(without, 200);
  EXPECT_LT(with, 75);  // 50 expected, sd 7
}

}  // namespace
}  // namespace sievelight
