// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/batch_errors.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

void check_sizes(const std::vector<std::string>& batches, const Eigen::VectorXd& values,
                 const Eigen::MatrixXd& covariance) {
  const auto n = static_cast<Index>(batches.size());
  if (values.size() != n || covariance.rows() != n || covariance.cols() != n)
    throw InputError(fmt::format("{} batches, {} values and a covariance of {} x {} do not belong together.", n,
                                 values.size(), covariance.rows(), covariance.cols()),
                     "Give what was compared.");
}

const BatchSummary& summary_of(const BatchComparison& comparison, const std::string& batch) {
  const auto found = std::find_if(comparison.batches.begin(), comparison.batches.end(),
                                  [&](const BatchSummary& b) { return b.batch == batch; });
  if (found == comparison.batches.end())
    throw InputError(fmt::format("the comparison has no batch '{}'.", batch), "Give one that was compared.");
  return *found;
}

std::vector<Index> members_of(const std::vector<std::string>& batches, const std::string& batch) {
  std::vector<Index> out;
  for (std::size_t i = 0; i < batches.size(); ++i)
    if (batches[i] == batch) out.push_back(static_cast<Index>(i));
  return out;
}

Eigen::MatrixXd relative(const Eigen::VectorXd& values, const Eigen::MatrixXd& covariance) {
  const Eigen::VectorXd inverse = values.cwiseInverse();
  return inverse.asDiagonal() * covariance * inverse.asDiagonal();
}

}  // namespace

BatchMeans means_of_batches(const std::vector<std::string>& batches, const Eigen::VectorXd& values,
                            const Eigen::MatrixXd& covariance, const BatchComparison& comparison,
                            const std::vector<std::string>& wanted) {
  check_sizes(batches, values, covariance);
  const auto count = static_cast<Index>(wanted.size());
  BatchMeans out{wanted, Eigen::VectorXd(count), {}};
  Eigen::MatrixXd average = Eigen::MatrixXd::Zero(count, values.size());
  Eigen::VectorXd scatter = Eigen::VectorXd::Zero(count);
  for (Index b = 0; b < count; ++b) {
    const std::string& name = wanted[static_cast<std::size_t>(b)];
    const BatchSummary& summary = summary_of(comparison, name);
    const std::vector<Index> members = members_of(batches, name);
    for (const Index i : members) average(b, i) = 1.0 / static_cast<double>(members.size());
    out.mean[b] = summary.mean.value;
    if (std::isfinite(summary.between_sample_sd))
      scatter[b] = summary.between_sample_sd * summary.between_sample_sd / static_cast<double>(members.size());
  }
  out.covariance =
      out.mean.asDiagonal() * (average * relative(values, covariance) * average.transpose()) * out.mean.asDiagonal();
  out.covariance.diagonal() += scatter;
  return out;
}

std::optional<SizingInput> errors_for_sizing(const std::vector<std::string>& batches, const Eigen::VectorXd& values,
                                             const Eigen::MatrixXd& covariance, const BatchComparison& comparison,
                                             const std::string& batch) {
  check_sizes(batches, values, covariance);
  const auto pair = std::find_if(comparison.pairs.begin(), comparison.pairs.end(),
                                 [&](const BatchPair& p) { return p.batch == batch; });
  if (pair == comparison.pairs.end())
    throw InputError(fmt::format("the comparison has no pair of '{}'.", batch), "Give a batch that was compared.");
  SizingInput out;
  double squares = 0.0;
  int known = 0;
  for (const std::string& name : {pair->batch, pair->reference}) {
    const BatchSummary& b = summary_of(comparison, name);
    out.scatter_degrees += b.samples - 1;
    if (!std::isfinite(b.between_sample_sd)) continue;
    squares += std::pow(b.between_sample_sd / b.mean.value, 2);
    ++known;
  }
  if (known == 0 || !std::isfinite(pair->standard_error_percent)) return std::nullopt;
  out.between_sd = std::sqrt(squares / known);
  std::vector<Index> members = members_of(batches, pair->batch), others = members_of(batches, pair->reference);
  members.insert(members.end(), others.begin(), others.end());
  const Eigen::MatrixXd v = relative(values, covariance)(members, members);
  const auto n = static_cast<double>(members.size());
  const double shared = n > 1 ? (v.sum() - v.trace()) / (n * (n - 1)) : 0.0;
  out.own_u = std::sqrt(std::max(v.trace() / n - shared, 0.0));
  out.shared_u = pair->standard_error_percent / 100 * std::sqrt(std::max(pair->shared_share, 0.0));
  out.margin = std::log1p(comparison.margin_percent / 100);
  out.alpha = comparison.alpha / static_cast<double>(comparison.pairs.size());
  if (!(out.between_sd + out.own_u + out.shared_u > 0)) return std::nullopt;
  return out;
}

}  // namespace sievelight
