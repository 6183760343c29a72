// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/distribution_distance.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/compare/wasserstein.hpp"
#include "sievelight/distribution/diagnose.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace sievelight {
namespace {

using Eigen::Index;

// One batch: the middle of each sample's draws, their mean, and whether the samples' scatter shows more than the draws.
struct Batch {
  const std::vector<Eigen::MatrixXd>& draws;
  Eigen::MatrixXd middle;  // (m, n)
  Eigen::VectorXd mean;    // (m)
  bool by_scatter = false;

  explicit Batch(const std::vector<Eigen::MatrixXd>& all) : draws(all), middle(all.front().rows(), 0) {
    middle.resize(all.front().rows(), static_cast<Index>(all.size()));
    double posterior = 0;
    for (Index j = 0; j < middle.cols(); ++j) {
      const Eigen::MatrixXd& d = all[static_cast<std::size_t>(j)];
      middle.col(j) = d.rowwise().mean();
      posterior += (d.colwise() - middle.col(j)).squaredNorm() / static_cast<double>(d.cols() - 1);
    }
    mean = middle.rowwise().mean();
    const double n = static_cast<double>(middle.cols());
    by_scatter = n > 1 && (middle.colwise() - mean).squaredNorm() / (n - 1) >= posterior / n;
  }

  Eigen::VectorXd move(std::mt19937_64& random) const {
    const Index n = middle.cols();
    Eigen::VectorXd out = Eigen::VectorXd::Zero(mean.size());
    if (by_scatter) {
      std::normal_distribution<double> normal;
      std::chi_squared_distribution<double> chi2(static_cast<double>(n - 1));
      for (Index j = 0; j < n; ++j) out += normal(random) * (middle.col(j) - mean);
      const double degrees = static_cast<double>(n - 1);
      return out / std::sqrt(static_cast<double>(n) * degrees) * std::sqrt(degrees / chi2(random));
    }
    for (Index j = 0; j < n; ++j) {
      const Eigen::MatrixXd& d = draws[static_cast<std::size_t>(j)];
      std::uniform_int_distribution<Index> pick(0, d.cols() - 1);
      out += d.col(pick(random)) - middle.col(j);
    }
    return out / static_cast<double>(n);
  }
};

void check(const Eigen::VectorXd& x, const std::vector<Eigen::MatrixXd>& batch) {
  if (batch.empty()) throw InputError("a batch has no samples.", "Give one distribution or more of each batch.");
  for (const Eigen::MatrixXd& d : batch) {
    if (d.rows() != x.size())
      throw InputError(fmt::format("a distribution has {} sizes where others have {}.", d.rows(), x.size()),
                       "Invert all samples with the same q bins and the same size window.");
    if (d.cols() < 20)
      throw InputError(fmt::format("a distribution has {} draws.", d.cols()), "Use the sampled method: 20 or more.");
  }
}

}  // namespace

DistributionDistance distribution_distance(const Eigen::VectorXd& diameter_nm, const std::vector<Eigen::MatrixXd>& a,
                                           const std::vector<Eigen::MatrixXd>& b, const DistanceOptions& options) {
  check(diameter_nm, a);
  check(diameter_nm, b);
  if (options.resamples < 200)
    throw InputError(fmt::format("{} resamples were asked for.", options.resamples), "Ask for 200 or more.");
  const Batch one(a), two(b);
  DistributionDistance out;
  out.samples_a = static_cast<int>(a.size());
  out.samples_b = static_cast<int>(b.size());
  out.raw_nm = wasserstein(diameter_nm, one.mean, two.mean);
  std::mt19937_64 random(options.seed);
  Eigen::VectorXd moved(options.resamples), alone(options.resamples);
  int reach = 0;
  for (int k = 0; k < options.resamples; ++k) {
    const Eigen::VectorXd da = one.move(random), db = two.move(random);
    moved[k] = wasserstein(diameter_nm, one.mean + da, two.mean + db);
    alone[k] = wasserstein(diameter_nm, da, db);
    if (alone[k] >= out.raw_nm) ++reach;
  }
  out.noise_nm = quantile(alone, 0.5);
  out.p_equal = (reach + 1.0) / (options.resamples + 1.0);
  out.value_nm = std::max(0.0, 2 * out.raw_nm - quantile(moved, 0.5));
  const double reach95 = quantile(alone, 0.95);
  out.interval95_nm = {std::max(0.0, out.raw_nm - reach95), out.raw_nm + reach95};
  return out;
}

}  // namespace sievelight
