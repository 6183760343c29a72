// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/batches.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/holm.hpp"
#include "sievelight/compare/equivalence.hpp"
#include "sievelight/compare/student.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace sievelight {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

void check_options(const BatchOptions& o, const std::vector<std::string>& labels) {
  if (!(o.margin > 0.0) || !std::isfinite(o.margin))
    throw InputError(fmt::format("the margin is {} %.", 100.0 * o.margin),
                     "Give the smallest relative difference that matters, above zero (5 % is a common start).");
  if (!(o.alpha > 0.0) || !(o.alpha < 0.5))
    throw InputError(fmt::format("alpha is {}; it must lie between 0 and 0.5.", o.alpha), "0.05 is usual.");
  if (std::find(labels.begin(), labels.end(), o.reference) == labels.end())
    throw InputError(fmt::format("the reference batch '{}' has no samples.", o.reference),
                     fmt::format("Batches with samples: {}.", fmt::join(labels, ", ")));
  if (labels.size() < 2)
    throw InputError(fmt::format("there is one batch only, '{}'.", labels[0]), "Give samples of two batches or more.");
}

void check_looks(const std::vector<int>& looks) {
  bool sound = looks.size() <= 20 && (looks.empty() || looks[0] >= 2);
  for (std::size_t k = 0; k + 1 < looks.size(); ++k) sound = sound && looks[k + 1] > looks[k];
  if (!sound)
    throw InputError(fmt::format("the looks are planned at {} samples a batch.", fmt::join(looks, ", ")),
                     "Give rising numbers, two or more samples at the first and 20 looks at most.");
}

void check_values(const std::vector<std::string>& names, const Eigen::VectorXd& values, bool log) {
  for (Eigen::Index i = 0; i < values.size(); ++i) {
    if (!std::isfinite(values[i]))
      throw InputError(fmt::format("the value of sample '{}' is {}.", names[i], values[i]),
                       "Leave the sample out, or mend its measurement.");
    if (log && !(values[i] > 0.0))
      throw InputError(fmt::format("the value of sample '{}' is {}, which has no logarithm.", names[i], values[i]),
                       "Compare without logarithms (log = false) where values may be zero or negative.");
  }
}

void check_covariance(const std::vector<std::string>& names, const Eigen::MatrixXd& v) {
  const double largest = v.size() > 0 ? v.cwiseAbs().maxCoeff() : 0.0;
  for (Eigen::Index i = 0; i < v.rows(); ++i)
    for (Eigen::Index j = 0; j <= i; ++j)
      if (!std::isfinite(v(i, j)) || std::abs(v(i, j) - v(j, i)) > 1e-9 * largest)
        throw InputError(
            fmt::format("the covariance of '{}' and '{}' is {} and {}.", names[i], names[j], v(i, j), v(j, i)),
            "Give a symmetric matrix of finite numbers in the values' unit squared.");
  const Eigen::VectorXd eigen = Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(v, Eigen::EigenvaluesOnly).eigenvalues();
  // A thousandth: variances and covariances may come from different approximations of the same errors.
  if (eigen.minCoeff() < -1e-3 * eigen.maxCoeff() || (v.diagonal().array() < 0.0).any())
    throw InputError(fmt::format("the covariance of the measurement errors is not positive semidefinite: its "
                                 "eigenvalues reach from {:.3g} to {:.3g}.",
                                 eigen.minCoeff(), eigen.maxCoeff()),
                     "A covariance must not exceed what the two variances allow; check its unit and its order.");
}

// Share of the measurement error's part of a batch's variance that counts as known when degrees of freedom are found.
// At 0 a comparison of even samples by an imprecise instrument hardly ever decides (2 samples a batch: error rates of
// 0.1 % instead of 5 %); at 1 the floor under the scatter makes it too bold (9 %). With these, no combination of
// scatter and measurement error, 2 to 4 samples a batch, goes above 4.8 % (per batch) or 5.7 % (pooled) at a nominal 5
// %: one-sided, two-sided, or at Holm's first level for three pairs (200 000 draws each).
constexpr double known_share_per_batch = 0.25, known_share_pooled = 0.15;

// What is known of a batch on the working scale.
struct Batch {
  std::vector<Eigen::Index> members;
  double mean = 0, scatter = nan;  // scatter: S^2
  double own = 0, shared = 0;      // p and c
  double empirical = 0;            // E, variance of the mean but for the shared part
  double known_share = known_share_per_batch;
  double degrees = 0;                                                       // of E; 0: nothing is known of the scatter
  double uncertain() const { return empirical - known_share * own / n(); }  // part of E that the scatter decides
  double n() const { return static_cast<double>(members.size()); }
};

double average(const Eigen::MatrixXd& v, const Batch& a, const Batch& b) {
  double sum = 0.0;
  for (Eigen::Index i : a.members)
    for (Eigen::Index j : b.members) sum += v(i, j);
  return sum / (a.n() * b.n());
}

Batch summarise(const Eigen::VectorXd& y, const Eigen::MatrixXd& v, std::vector<Eigen::Index> members) {
  Batch b;
  b.members = std::move(members);
  const double n = b.n();
  b.mean = y(b.members).mean();
  const double diagonal = v.diagonal()(b.members).mean();
  b.shared = n > 1 ? (average(v, b, b) * n - diagonal) / (n - 1.0) : 0.0;
  b.own = std::max(0.0, diagonal - b.shared);
  if (n > 1) b.scatter = (y(b.members).array() - b.mean).square().sum() / (n - 1.0);
  b.empirical = std::max(n > 1 ? b.scatter : 0.0, b.own) / n;
  b.degrees = n - 1.0;
  return b;
}

// One between-sample variance for all batches: the mean of S^2 - p, weighted by degrees of freedom.
double pool(std::vector<Batch>& batches) {
  double degrees = 0.0, sum = 0.0;
  for (const Batch& b : batches)
    if (b.n() > 1) degrees += b.n() - 1.0, sum += (b.n() - 1.0) * (b.scatter - b.own);
  if (degrees == 0.0) return 0.0;
  const double between = std::max(0.0, sum / degrees);
  for (Batch& b : batches) {
    b.empirical = (between + b.own) / b.n();
    b.degrees = degrees;
    b.known_share = known_share_pooled;
  }
  return degrees;
}

double satterthwaite(double total, std::initializer_list<std::pair<double, double>> parts) {
  double sum = 0.0;
  for (const auto& [variance, degrees] : parts) sum += variance * variance / degrees;
  return sum > 0.0 ? total * total / sum : infinity;
}

BatchSummary describe(const std::string& label, const Batch& b, bool log) {
  BatchSummary out;
  out.batch = label;
  out.samples = static_cast<int>(b.members.size());
  out.includes_scatter = b.degrees > 0.0;
  const double variance = b.empirical + b.shared, u = std::sqrt(std::max(0.0, variance));
  out.degrees_of_freedom = out.includes_scatter ? satterthwaite(variance, {{b.uncertain(), b.degrees}}) : infinity;
  const auto back = [&](double y) { return log ? std::exp(y) : y; };
  const auto band = [&](double p) {
    const double half = u > 0.0 ? student_quantile(0.5 + 0.5 * p, out.degrees_of_freedom) * u : 0.0;
    return Range{back(b.mean - half), back(b.mean + half)};
  };
  const double value = back(b.mean), scale = log ? value : 1.0;
  out.mean = {value, u * scale, band(0.682689492137086), band(0.95)};
  out.shared_u = scale * std::sqrt(std::max(0.0, b.shared));
  if (b.n() < 2) {
    out.between_sample_sd = nan;
    out.between_sample_sd95 = {nan, nan};
    return out;
  }
  const auto sd = [&](double scatter) { return scale * std::sqrt(std::max(0.0, scatter - b.own)); };
  const double degrees = b.n() - 1.0;
  out.between_sample_sd = sd(b.scatter);
  out.between_sample_sd95 = {sd(b.scatter * degrees / gsl_cdf_chisq_Pinv(0.975, degrees)),
                             sd(b.scatter * degrees / gsl_cdf_chisq_Pinv(0.025, degrees))};
  return out;
}

// A pair before the verdict; `test` is empty where nothing can be tested.
struct Judged {
  BatchPair pair;
  std::optional<EquivalenceTest> test;
  bool eligible = false;  // may get a verdict
};

// A single sample does not say what it shares with others of its batch: take what it shares with the other batch.
Batch with_shared_part(Batch b, double across) {
  if (b.n() > 1) return b;
  const double moved = std::min(b.own, across);
  b.shared = moved;
  b.own -= moved;
  b.empirical -= moved;
  return b;
}

Judged judge(const Batch& batch, const Batch& reference, double across, const BatchOptions& o, bool pooled) {
  Judged out;
  const Batch a = with_shared_part(batch, across), r = with_shared_part(reference, across);
  const double known = std::max(0.0, a.shared + r.shared - 2.0 * across), total = a.empirical + r.empirical + known;
  const double scale = std::abs(r.mean);
  double degrees = infinity;
  if (pooled)
    degrees = satterthwaite(total, {{a.uncertain() + r.uncertain(), a.degrees}});
  else if (a.degrees > 0.0 && r.degrees > 0.0)
    degrees = satterthwaite(total, {{a.uncertain(), a.degrees}, {r.uncertain(), r.degrees}});
  else if (a.degrees > 0.0 || r.degrees > 0.0)
    degrees = a.degrees > 0.0 ? satterthwaite(total, {{a.uncertain(), a.degrees}})
                              : satterthwaite(total, {{r.uncertain(), r.degrees}});
  const double d = a.mean - r.mean, limit = o.log ? std::log1p(o.margin) : o.margin * std::abs(r.mean);
  const auto percent = [&](double x) { return 100.0 * (o.log ? std::expm1(x) : x / scale); };
  BatchPair& p = out.pair;
  p.difference_percent = percent(d);
  p.verdict = "undecided";
  p.degrees_of_freedom = degrees;
  p.verdict_level = o.alpha;
  if (!(total > 0.0) || !(limit > 0.0)) {
    p.difference_percent_low = p.difference_percent_high = p.verdict_percent_low = p.verdict_percent_high = nan;
    p.standard_error_percent = total > 0.0 ? percent(std::sqrt(total)) : 0.0;
    p.p_equivalent = p.p_different = p.p_zero = nan;
    p.reason = total > 0.0 ? "the mean of the reference is zero: a margin in percent of it means nothing"
                           : "the values do not scatter and have no uncertainty: there is nothing to judge by";
    return out;
  }
  const EquivalenceTest t = equivalence_test(d, std::sqrt(total), degrees, {-limit, limit}, o.alpha);
  p.difference_percent_low = percent(t.interval95.low);
  p.difference_percent_high = percent(t.interval95.high);
  p.verdict_percent_low = percent(t.verdict_interval.low);
  p.verdict_percent_high = percent(t.verdict_interval.high);
  p.standard_error_percent = 100.0 * std::sqrt(total) / (o.log ? 1.0 : scale);
  p.shared_share = known / total;
  p.p_equivalent = t.p_equivalent;
  p.p_different = t.p_different;
  p.p_zero = t.p_zero;
  out.test = t;
  out.eligible = (a.degrees > 0.0 && r.degrees > 0.0) || o.single_samples;
  p.difference_significant = out.eligible && t.significant;
  return out;
}

// The planned look at which both batches stand, from 1; 0 for none.
int look_of(const Batch& a, const Batch& r, const std::vector<int>& looks) {
  for (std::size_t k = 0; k < looks.size(); ++k)
    if (static_cast<int>(a.members.size()) == looks[k] && static_cast<int>(r.members.size()) == looks[k])
      return static_cast<int>(k) + 1;
  return 0;
}

// Limits of the planned looks at an error rate: level of a one-sided p-value at a look (from 1).
double level_at(const BatchOptions& o, double alpha, int look) {
  Eigen::VectorXd fractions(static_cast<Eigen::Index>(o.looks.size()));
  for (std::size_t k = 0; k < o.looks.size(); ++k)
    fractions[static_cast<Eigen::Index>(k)] = static_cast<double>(o.looks[k]) / o.looks.back();
  return sequential_limits(fractions, alpha, o.spending).level[look - 1];
}

std::string unplanned_reason(const Batch& a, const Batch& r, const std::vector<int>& looks) {
  return fmt::format(
      "no look was planned at {} and {} samples (planned: {} a batch): a verdict now would be false more often than "
      "stated; wait for the next look, or leave the samples beyond the last one out",
      a.members.size(), r.members.size(), fmt::join(looks, ", "));
}

std::string single_sample_reason(const Batch& a, const Batch& r, const BatchPair& p) {
  const std::string who = a.n() == 1 && r.n() == 1 ? fmt::format("{} and {} have one sample each", p.batch, p.reference)
                          : a.n() == 1             ? fmt::format("{} has one sample", p.batch)
                                                   : fmt::format("{} has one sample", p.reference);
  return who +
         ": its scatter between samples is unknown and the interval holds measurement error only; measure at "
         "least two more samples";
}

// The verdict of one pair at its level after Holm, and why.
void decide(Judged& judged, const Batch& a, const Batch& r, const BatchOptions& o, bool claimed, double level,
            std::size_t pairs) {
  BatchPair& p = judged.pair;
  p.verdict_level = level;
  const EquivalenceTest t = equivalence_test(judged.test->difference, judged.test->standard_error,
                                             judged.test->degrees_of_freedom, judged.test->limits, level);
  if (claimed) p.verdict = p.p_equivalent < p.p_different ? "equivalent" : "different";
  const double reference = std::abs(r.mean);
  const auto percent = [&](double x) { return 100.0 * (o.log ? std::expm1(x) : x / reference); };
  const std::string interval = fmt::format("the {:.4g} % interval, {:+.2f} to {:+.2f} %,", 100.0 * (1.0 - 2.0 * level),
                                           percent(t.verdict_interval.low), percent(t.verdict_interval.high));
  const std::string margin = fmt::format("{:+.2f} to {:+.2f} %", percent(t.limits.low), percent(t.limits.high));
  const std::string holm_words = p.look > 0
                                     ? fmt::format(" (look {} of {} planned{})", p.look, o.looks.size(),
                                                   pairs > 1 ? fmt::format("; Bonferroni over {} pairs", pairs) : "")
                                 : pairs > 1 ? fmt::format(" (Holm over {} pairs)", pairs)
                                             : "";
  if (p.verdict == "equivalent") {
    p.reason = fmt::format("{} lies inside {}{}", interval, margin, holm_words);
  } else if (p.verdict == "different") {
    p.reason = fmt::format("{} lies outside {}{}", interval, margin, holm_words);
  } else if (t.equivalent || t.different) {
    p.reason = fmt::format("{} would decide, but a surer pair before it did not{}", interval, holm_words);
  } else {
    const char* by = p.shared_share > 0.5 ? "most of it is measurement error that the batches do not share; calibrate "
                                            "or measure them together"
                                          : "most of it is scatter between samples; more samples narrow it";
    p.reason = fmt::format("{} reaches across the margin, {}{}; {} ({} and {} samples)", interval, margin, holm_words,
                           by, a.members.size(), r.members.size());
  }
}

}  // namespace

BatchComparison compare_batches(const std::vector<std::string>& names, const std::vector<std::string>& batches,
                                const Eigen::VectorXd& values, const Eigen::MatrixXd& covariance,
                                const BatchOptions& options) {
  const Eigen::Index n = values.size();
  if (static_cast<Eigen::Index>(names.size()) != n || static_cast<Eigen::Index>(batches.size()) != n ||
      covariance.rows() != n || covariance.cols() != n)
    throw InputError(fmt::format("{} names, {} batches, {} values and a covariance of {} x {} do not belong together.",
                                 names.size(), batches.size(), n, covariance.rows(), covariance.cols()),
                     "Give one name, one batch and one value a sample, and the covariance of those values.");
  std::vector<std::string> labels;
  for (const std::string& label : batches)
    if (std::find(labels.begin(), labels.end(), label) == labels.end()) labels.push_back(label);
  check_options(options, labels);
  check_looks(options.looks);
  check_values(names, values, options.log);
  check_covariance(names, covariance);

  const Eigen::VectorXd y = options.log ? values.array().log().matrix().eval() : values;
  const Eigen::VectorXd slope = options.log ? values.cwiseInverse().eval() : Eigen::VectorXd::Ones(n).eval();
  const Eigen::MatrixXd v = slope.asDiagonal() * covariance * slope.asDiagonal();
  std::vector<Batch> all;
  for (const std::string& label : labels) {
    std::vector<Eigen::Index> members;
    for (Eigen::Index i = 0; i < n; ++i)
      if (batches[i] == label) members.push_back(i);
    all.push_back(summarise(y, v, std::move(members)));
  }
  const bool pooled = options.scatter == Scatter::pooled && pool(all) > 0.0;

  BatchComparison out{options.quantity, options.reference, 100.0 * options.margin, options.alpha, options.log, {}, {}};
  const std::size_t reference = std::find(labels.begin(), labels.end(), options.reference) - labels.begin();
  std::vector<Judged> judged;
  std::vector<std::size_t> of;
  for (std::size_t b = 0; b < all.size(); ++b) {
    out.batches.push_back(describe(labels[b], all[b], options.log));
    if (b == reference) continue;
    judged.push_back(judge(all[b], all[reference], average(v, all[b], all[reference]), options, pooled));
    judged.back().pair.batch = labels[b];
    judged.back().pair.reference = options.reference;
    of.push_back(b);
  }
  // Holm over the pairs that can be judged at all.
  std::vector<std::size_t> eligible;
  std::vector<double> p_verdict, p_zero;
  for (std::size_t k = 0; k < judged.size(); ++k) {
    Judged& j = judged[k];
    if (!options.looks.empty() && j.test) {
      j.pair.look = look_of(all[of[k]], all[reference], options.looks);
      j.pair.difference_significant = false;
      if (j.pair.look == 0) {
        j.eligible = false;
        j.pair.p_zero_holm = nan;
        j.pair.reason = unplanned_reason(all[of[k]], all[reference], options.looks);
        continue;
      }
    }
    if (j.eligible) {
      eligible.push_back(k);
      p_verdict.push_back(std::min(j.pair.p_equivalent, j.pair.p_different));
      p_zero.push_back(j.pair.p_zero);
    } else {
      j.pair.p_zero_holm = nan;
      if (j.test) j.pair.reason = single_sample_reason(all[of[k]], all[reference], j.pair);
    }
  }
  const HolmResult verdicts = holm(p_verdict, options.alpha), zeros = holm(p_zero, options.alpha);
  for (std::size_t e = 0; e < eligible.size(); ++e) {
    Judged& j = judged[eligible[e]];
    j.pair.p_zero_holm = zeros.adjusted[e];
    if (j.pair.look > 0) {
      const double level = level_at(options, options.alpha / static_cast<double>(eligible.size()), j.pair.look);
      j.pair.p_zero_holm = std::min(1.0, j.pair.p_zero * static_cast<double>(eligible.size()));
      j.pair.difference_significant = j.pair.p_zero < 2 * level_at(options, options.alpha / 2, j.pair.look);
      decide(j, all[of[eligible[e]]], all[reference], options, p_verdict[e] < level, level, eligible.size());
      continue;
    }
    decide(j, all[of[eligible[e]]], all[reference], options, verdicts.claimed[e], verdicts.level[e], eligible.size());
  }
  for (Judged& j : judged) out.pairs.push_back(std::move(j.pair));
  return out;
}

}  // namespace sievelight
