// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/diagnose.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

std::vector<Eigen::VectorXd> halves(const std::vector<Eigen::VectorXd>& chains) {
  std::vector<Eigen::VectorXd> out;
  for (const auto& chain : chains) {
    const Eigen::Index half = chain.size() / 2;
    out.emplace_back(chain.head(half));
    out.emplace_back(chain.tail(half));
  }
  return out;
}

struct Variances {
  double within = nan, total = nan;  // total: the pooled estimate var+
};

Variances variances(const std::vector<Eigen::VectorXd>& chains) {
  const auto m = static_cast<double>(chains.size());
  const auto n = static_cast<double>(chains.front().size());
  double mean = 0, within = 0, between = 0;
  for (const auto& chain : chains) mean += chain.mean() / m;
  for (const auto& chain : chains) {
    within += (chain.array() - chain.mean()).square().sum() / (n - 1) / m;
    between += (chain.mean() - mean) * (chain.mean() - mean) / (m - 1);
  }
  return {within, (n - 1) / n * within + between};
}

// Linear interpolation in sorted values.
double sorted_quantile(const std::vector<double>& v, double probability) {
  if (v.empty()) return nan;
  const double at = probability * static_cast<double>(v.size() - 1);
  const auto k = std::min(static_cast<std::size_t>(at), v.size() - 1);
  const double f = at - static_cast<double>(k);
  return k + 1 < v.size() ? (1 - f) * v[k] + f * v[k + 1] : v[k];
}

std::vector<double> sorted(const Eigen::VectorXd& values) {
  std::vector<double> v;
  v.reserve(static_cast<std::size_t>(values.size()));
  for (const double value : values)
    if (!std::isnan(value)) v.push_back(value);
  std::sort(v.begin(), v.end());
  return v;
}

}  // namespace

double split_r_hat(const std::vector<Eigen::VectorXd>& chains) {
  if (chains.empty() || chains.front().size() < 4) return nan;
  const Variances v = variances(halves(chains));
  return v.within > 0 ? std::sqrt(v.total / v.within) : nan;
}

double effective_draws(const std::vector<Eigen::VectorXd>& chains) {
  if (chains.empty() || chains.front().size() < 8) return nan;
  const auto parts = halves(chains);
  const Eigen::Index n = parts.front().size();
  const auto m = static_cast<double>(parts.size());
  const Variances v = variances(parts);
  if (!(v.total > 0)) return nan;
  const auto correlation = [&](Eigen::Index lag) {
    double covariance = 0;
    for (const auto& part : parts) {
      const Eigen::ArrayXd off = part.array() - part.mean();
      covariance += (off.head(n - lag) * off.tail(n - lag)).sum() / static_cast<double>(n) / m;
    }
    return 1 - (v.within - covariance) / v.total;
  };
  double time = -1, least = std::numeric_limits<double>::infinity();
  for (Eigen::Index lag = 0; lag + 1 < n; lag += 2) {
    double pair = (lag == 0 ? 1.0 : correlation(lag)) + correlation(lag + 1);
    if (pair <= 0) break;
    least = std::min(least, pair);
    time += 2 * least;
  }
  const double total = m * static_cast<double>(n);
  return std::min(total / std::max(time, 1e-3), total * std::log10(total));
}

double quantile(Eigen::VectorXd values, double probability) { return sorted_quantile(sorted(values), probability); }

Estimate summarise(const Eigen::VectorXd& draws) {
  const std::vector<double> v = sorted(draws);
  Estimate out;
  if (v.empty()) return out;
  const Eigen::Map<const Eigen::ArrayXd> all(v.data(), static_cast<Eigen::Index>(v.size()));
  out.value = sorted_quantile(v, 0.5);
  out.u = v.size() > 1 ? std::sqrt((all - all.mean()).square().sum() / static_cast<double>(v.size() - 1)) : nan;
  // 68.27 %: what a normal distribution holds within one standard deviation.
  out.band68 = {sorted_quantile(v, 0.158655), sorted_quantile(v, 0.841345)};
  out.band95 = {sorted_quantile(v, 0.025), sorted_quantile(v, 0.975)};
  return out;
}

}  // namespace sievelight
