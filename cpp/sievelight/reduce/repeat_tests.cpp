// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/repeat_tests.hpp"

#include "sievelight/base/gsl.hpp"

#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

double two_sided_normal(double z) { return 2.0 * gsl_cdf_ugaussian_Q(std::abs(z)); }

// Probabilities of the sum of `photons` numbers, each k = 0 .. K - 1 with probability share[k].
VectorXd sum_probabilities(const VectorXd& share, Index photons) {
  VectorXd now = VectorXd::Ones(1);
  for (Index i = 0; i < photons; ++i) {
    VectorXd next = VectorXd::Zero(now.size() + share.size() - 1);
    for (Index k = 0; k < share.size(); ++k) next.segment(k, now.size()) += share[k] * now;
    now = std::move(next);
  }
  return now;
}

// Up to here sums are convolved, beyond they are normal: with 2000 steps the fourth moment is normal to 1 %.
constexpr double exact_up_to = 2000.0;

struct Moments {
  double mean = 0.0, variance = 0.0;
};
// Of the number of the exposure that a photon of a bin belongs to.
Moments number_of(const VectorXd& share) {
  Moments m;
  for (Index k = 0; k < share.size(); ++k) m.mean += static_cast<double>(k) * share[k];
  for (Index k = 0; k < share.size(); ++k)
    m.variance += (static_cast<double>(k) - m.mean) * (static_cast<double>(k) - m.mean) * share[k];
  return m;
}

// Score of a trend: photons of bin i weigh c_i.
struct Score {
  double score = 0.0, variance = 0.0;
};
Score trend_score(const RepeatCounts& d, const VectorXd& c) {
  Score out;
  for (Index i = 0; i < d.counts.cols(); ++i) {
    const double total = d.counts.col(i).sum();
    const Moments m = number_of(d.share.col(i));
    for (Index k = 0; k < d.counts.rows(); ++k) out.score += c[i] * (static_cast<double>(k) - m.mean) * d.counts(k, i);
    out.variance += c[i] * c[i] * total * m.variance;
  }
  return out;
}

TrendTest finish(const RepeatCounts& d, const Score& s, double extra_variance) {
  TrendTest out;
  if (!(s.variance > 0)) return out;
  const double steps = static_cast<double>(d.counts.rows() - 1);
  out.change = s.score / s.variance * steps;
  out.u = std::sqrt(s.variance + extra_variance) / s.variance * steps;
  out.z = s.score / std::sqrt(s.variance + extra_variance);
  out.probability = two_sided_normal(out.z);
  return out;
}

// Mean share of the exposures over the photons of some bins.
VectorXd mean_share(const RepeatCounts& d, Index first, Index bins) {
  const VectorXd total = d.counts.middleCols(first, bins).colwise().sum();
  return d.share.middleCols(first, bins) * total / total.sum();
}

}  // namespace

ScaleTest test_scale(const RepeatCounts& d, Index exposure) {
  quiet_gsl();
  ScaleTest out;
  const VectorXd total = d.counts.colwise().sum();
  const double all = total.sum(), own = d.counts.row(exposure).sum(), rest = all - own;
  if (!(all > 0)) return out;
  const double p = d.share.row(exposure).dot(total) / all, expected = all * p;
  const double binomial = expected * (1 - p);
  if (!(binomial > 0)) return out;
  // One count stands for none where a side is empty.
  out.scale = own * (1 - p) / (std::max(rest, 1.0) * p);
  out.u = std::sqrt(1 / std::max(own, 1.0) + 1 / std::max(rest, 1.0));
  const double others = static_cast<double>(d.counts.rows() - 1);
  const double jitter = d.scale_relative_u * binomial;
  const double variance = binomial + jitter * jitter * (1 + 1 / others);
  out.u = std::sqrt(out.u * out.u + d.scale_relative_u * d.scale_relative_u * (1 + 1 / others));
  out.z = (own - expected) / std::sqrt(variance);
  if (d.scale_relative_u > 0 || all > 1e6) {
    out.probability = two_sided_normal(out.z);
  } else {
    const auto n = static_cast<unsigned>(all), k = static_cast<unsigned>(own);
    const double below = gsl_cdf_binomial_P(k, p, n), above = k == 0 ? 1.0 : gsl_cdf_binomial_Q(k - 1, p, n);
    out.probability = std::min(1.0, 2 * std::min(below, above));
  }
  return out;
}

ShapeTest test_shape(const RepeatCounts& d, Index exposure, double least) {
  quiet_gsl();
  ShapeTest out;
  const VectorXd total = d.counts.colwise().sum();
  const double all = total.sum(), own = d.counts.row(exposure).sum();
  if (own <= 0 || own >= all) return out;
  // The factor f of this exposure for which the expected sum is the one seen.
  const VectorXd p = d.share.row(exposure);
  double log_f = 0.0;
  VectorXd q = p;
  for (int i = 0; i < 50; ++i) {
    q = (p.array() * std::exp(log_f)) / (p.array() * std::exp(log_f) + 1.0 - p.array());
    const double step = (own - total.dot(q)) / total.dot((q.array() * (1 - q.array())).matrix());
    log_f += std::clamp(step, -1.0, 1.0);
    if (std::abs(step) < 1e-10) break;
  }
  struct Group {
    double counts = 0, total = 0, expected = 0, variance = 0;
  };
  std::vector<Group> groups;
  Group open;
  for (Index i = 0; i < total.size(); ++i) {
    open.counts += d.counts(exposure, i);
    open.total += total[i];
    open.expected += total[i] * q[i];
    open.variance += total[i] * q[i] * (1 - q[i]);
    if (open.expected >= least && open.total - open.expected >= least) {
      groups.push_back(open);
      open = {};
    }
  }
  if (!groups.empty()) {
    Group& last = groups.back();
    last.counts += open.counts;
    last.total += open.total;
    last.expected += open.expected;
    last.variance += open.variance;
  }
  if (groups.size() < 2) return out;
  out.degrees_of_freedom = static_cast<double>(groups.size() - 1);
  double variance = 2 * out.degrees_of_freedom;
  for (const Group& g : groups) {
    out.chi2 += (g.counts - g.expected) * (g.counts - g.expected) / g.variance;
    // Fourth cumulant of the binomial; negative (a flatter one) is not used.
    variance += std::max(0.0, (1 - 6 * g.variance / g.total) / g.variance);
  }
  // The scaled chi-square with this mean and variance (Satterthwaite).
  const double factor = variance / (2 * out.degrees_of_freedom);
  out.probability = gsl_cdf_chisq_Q(out.chi2 / factor, out.degrees_of_freedom / factor);
  return out;
}

TrendTest test_scale_trend(const RepeatCounts& d) {
  quiet_gsl();
  const double all = d.counts.sum();
  if (!(all > 0)) return {};
  const VectorXd share = mean_share(d, 0, d.counts.cols());
  const Moments m = number_of(share);
  double jitter = 0.0;
  for (Index k = 0; k < share.size(); ++k)
    jitter += std::pow(d.scale_relative_u * all * share[k] * (static_cast<double>(k) - m.mean), 2);
  TrendTest out = finish(d, trend_score(d, VectorXd::Ones(d.counts.cols())), jitter);
  const double steps = static_cast<double>(share.size() - 1);
  if (jitter > 0 || all * steps > exact_up_to) return out;
  double seen = 0.0;
  for (Index k = 0; k < share.size(); ++k) seen += static_cast<double>(k) * d.counts.row(k).sum();
  const VectorXd probability = sum_probabilities(share, static_cast<Index>(all));
  const auto s = static_cast<Index>(std::lround(seen));
  const double below = probability.head(s + 1).sum(), above = probability.tail(probability.size() - s).sum();
  out.probability = std::min(1.0, 2 * std::min(below, above));
  return out;
}

TrendTest test_low_trend(const RepeatCounts& d, Index low_bins) {
  quiet_gsl();
  const Index bins = d.counts.cols(), high_bins = bins - low_bins;
  if (low_bins < 1 || high_bins < 1) return {};
  const double low = d.counts.leftCols(low_bins).sum(), high = d.counts.rightCols(high_bins).sum(), all = low + high;
  if (!(low > 0) || !(high > 0)) return {};
  VectorXd c(bins);
  c.head(low_bins).setConstant(high / all);
  c.tail(high_bins).setConstant(-low / all);
  TrendTest out = finish(d, trend_score(d, c), 0.0);
  const double steps = static_cast<double>(d.counts.rows() - 1);
  if (all * steps > exact_up_to) return out;
  // high * (sum of low photons' numbers) - low * (that of the high ones), all whole numbers.
  const VectorXd low_share = mean_share(d, 0, low_bins), high_share = mean_share(d, low_bins, high_bins);
  const VectorXd low_p = sum_probabilities(low_share, static_cast<Index>(low)),
                 high_p = sum_probabilities(high_share, static_cast<Index>(high));
  double low_seen = 0.0, high_seen = 0.0;
  for (Index k = 0; k < d.counts.rows(); ++k) {
    low_seen += static_cast<double>(k) * d.counts.row(k).head(low_bins).sum();
    high_seen += static_cast<double>(k) * d.counts.row(k).tail(high_bins).sum();
  }
  const double seen = high * low_seen - low * high_seen;
  double below = 0.0, above = 0.0;
  for (Index a = 0; a < low_p.size(); ++a)
    for (Index b = 0; b < high_p.size(); ++b) {
      const double value = high * static_cast<double>(a) - low * static_cast<double>(b);
      const double probability = low_p[a] * high_p[b];
      if (value <= seen) below += probability;
      if (value >= seen) above += probability;
    }
  out.probability = std::min(1.0, 2 * std::min(below, above));
  return out;
}

}  // namespace sievelight
