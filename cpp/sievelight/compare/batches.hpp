// SPDX-License-Identifier: GPL-3.0-or-later
/// Do two synthesis batches have the same pores? Means, scatter between samples, and a verdict for each batch against a
/// reference.
/// Model: value y_bj of sample j in batch b (its logarithm as a rule) = mu_b + s_bj + e_bj; s scatter between samples,
/// e measurement error with the known covariance V. V's average within a batch is split into a private part p (averages
/// out, and is part of the scatter seen) and a shared part c (the average covariance of two samples: does neither).
///   scatter seen               E(S_b^2) = sd_b^2 + p_b        S_b^2 the samples' variance, n_b - 1 degrees of freedom
///   between-sample sd          sd_b^2 = max(0, S_b^2 - p_b)
///   variance of a batch's mean E_b + c_b,  E_b = max(S_b^2, p_b) / n_b
///   variance of a difference   E_a + E_b + (c_a + c_b - 2 c_ab),  c_ab the average covariance across the batches
/// so an error that all samples share cancels (c_a = c_b = c_ab), stays in absolute means, and an error that each batch
/// has of its own counts in full although no scatter shows it. E_b is never below what the known measurement error
/// alone makes of it, because few samples lie close together by luck. Degrees of freedom by Satterthwaite from
/// E_b less a part of p_b / n_b (batches.cpp says which), the rest being known. Means are plain: weights from two or
/// three samples cost more than they gain, and S_b^2 / n_b is right for a plain mean whatever the single measurement
/// errors.
///
/// Verdict on each pair, margin m: on logarithms the limits are -ln(1 + m) and +ln(1 + m), otherwise -+ m |mean of the
/// reference|. `equivalent` where the 1 - 2 alpha interval lies inside, `different` where it lies wholly outside,
/// otherwise `undecided`. Several pairs: Holm's procedure on the smaller of the pair's two one-sided p-values (inside,
/// outside), so the probability of any false verdict of either kind stays at alpha; its level replaces alpha.
/// The column difference_significant asks another question, whether the 1 - alpha interval excludes zero, of each pair
/// by itself (p_zero_holm is there for all together): a difference can be real and yet inside the margin.
///
/// A batch of one sample shows no scatter: its pairs are undecided unless the scatter is pooled over other batches, or
/// the options say that measurement error is all there is. Samples must be different samples: repeated measurements of
/// one sample are one value. Samples of one batch test that batch; a claim about the recipe needs several batches.
///
/// Measured error rates (batches_test.cpp): at most 6 % of either false verdict at the margin, 2 to 4 samples a batch
/// of one number and similar scatter. Unequal ones (tests/coverage/batch_rates.md): up to 7.3 % of a false verdict
/// and 9.8 % of false significance, where the smaller batch, of 2 against 4, scatters four times as much. Sources:
/// equivalence.hpp, holm.hpp; deciding in either direction by step-down tests: J. P. Shaffer, Ann. Statist. 8 (1980)
/// 1342 (from memory; proved for independent statistics, measured here for pairs that share a reference).
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/compare/sequential.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

enum class Scatter {
  per_batch,  // each batch has its own (Welch)
  pooled      // one between-sample sd for all batches: more degrees of freedom, if it is true
};

struct BatchOptions {
  std::string reference{};       // name of the batch that the others are compared with
  std::string quantity = "x50";  // what the values are, for the record
  double margin = 0.05;          // relative difference that matters
  bool log = true;               // compare logarithms, so ratios
  double alpha = 0.05;           // error rate of a verdict
  Scatter scatter = Scatter::per_batch;
  bool single_samples = false;  // judge batches of one sample by their measurement error alone
  /// Samples a batch at which the comparison is looked at, planned before the first; empty: once. Verdicts then stand
  /// at the look's level of sequential.hpp, alpha divided by the number of pairs (Bonferroni) instead of Holm's steps;
  /// so does difference_significant, of each pair by itself. A pair whose batches have not both just a planned number
  /// stays undecided.
  std::vector<int> looks{};
  Spending spending = Spending::obrien_fleming;
};

struct BatchSummary {
  std::string batch;
  int samples = 0;
  Estimate mean;                  // in the values' unit (geometric mean on logarithms); shared errors included
  double degrees_of_freedom = 0;  // of the mean's uncertainty
  double between_sample_sd = 0;   // in the values' unit, measurement error removed; NaN for one sample
  Range between_sample_sd95;      // its 95 % interval
  double shared_u = 0;            // part of the mean's u that the samples share, in the values' unit
  bool includes_scatter = true;   // false: one sample, so the interval holds measurement error only
};

struct BatchPair {
  std::string batch, reference;
  double difference_percent = 0;                                   // of the reference
  double difference_percent_low = 0, difference_percent_high = 0;  // 95 % interval
  double verdict_percent_low = 0, verdict_percent_high = 0;        // 1 - 2 alpha interval
  double standard_error_percent = 0;
  double degrees_of_freedom = 0;
  double shared_share = 0;                   // share of the variance that is known and not scatter: c_a + c_b - 2 c_ab
  double p_equivalent = 0, p_different = 0;  // one-sided
  double verdict_level = 0;                  // alpha after Holm: what the smaller of the two was compared with
  double p_zero = 0, p_zero_holm = 0;
  bool difference_significant = false;
  int look = 0;         // of the planned looks, from 1; 0 where none were planned or this is none of them
  std::string verdict;  // "equivalent", "different" or "undecided"
  std::string reason;   // in words
};

struct BatchComparison {
  std::string quantity;
  std::string reference;
  double margin_percent = 0;
  double alpha = 0.05;
  bool log = true;
  std::vector<BatchSummary> batches;  // in the order of their first sample
  std::vector<BatchPair> pairs;       // every other batch against the reference, in the same order
};

/// names, batches, values: (n), one a sample; covariance (n, n) of the measurement errors of `values` (zeros: only the
/// scatter counts). Raises InputError, naming the sample or batch: sizes that differ, values that are NaN or (on
/// logarithms) not positive, a covariance that is not symmetric or not positive semidefinite, a reference that is none
/// of the batches, fewer than two batches, a margin or alpha out of range.
BatchComparison compare_batches(const std::vector<std::string>& names, const std::vector<std::string>& batches,
                                const Eigen::VectorXd& values, const Eigen::MatrixXd& covariance,
                                const BatchOptions& options);

}  // namespace sievelight
