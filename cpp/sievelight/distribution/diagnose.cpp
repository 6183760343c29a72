// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/diagnose.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

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

// Where a probability stands among n sorted values: between place k and k + 1, a share f of the way.
struct Place {
  std::size_t k;
  double f;
};

Place place_of(double probability, std::size_t n) {
  const double at = probability * static_cast<double>(n - 1);
  const auto k = std::min(static_cast<std::size_t>(at), n - 1);
  return {k, at - static_cast<double>(k)};
}

std::vector<double> numbers_in(const Eigen::VectorXd& values) {
  std::vector<double> v;
  v.reserve(static_cast<std::size_t>(values.size()));
  for (const double value : values)
    if (!std::isnan(value)) v.push_back(value);
  return v;
}

// Puts the values that sorting would bring to `places` (rising) there, by halves: a few passes instead of a sort.
void put_in_place(double* begin, double* end, double* origin, std::span<const std::size_t> places) {
  if (places.empty() || end - begin < 2) return;
  const std::size_t middle = places.size() / 2;
  double* const at = origin + places[middle];
  std::nth_element(begin, at, end);
  put_in_place(begin, at, origin, places.first(middle));
  put_in_place(at + 1, end, origin, places.subspan(middle + 1));
}

// Quantiles by linear interpolation; probabilities rise. Orders v on the way.
template <std::size_t count>
std::array<double, count> quantiles(std::vector<double>& v, const std::array<double, count>& probabilities) {
  std::array<double, count> out{};
  if (v.empty()) {
    out.fill(nan);
    return out;
  }
  std::vector<std::size_t> places;
  for (const double probability : probabilities)
    for (std::size_t k = place_of(probability, v.size()).k, more = 0; more < 2; ++more)
      if (k + more < v.size() && (places.empty() || places.back() < k + more)) places.push_back(k + more);
  put_in_place(v.data(), v.data() + v.size(), v.data(), places);
  for (std::size_t i = 0; i < count; ++i)
    out[i] = quantile_of_sorted(v.data(), static_cast<Eigen::Index>(v.size()), 1, probabilities[i]);
  return out;
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

double quantile_of_sorted(const double* sorted, Eigen::Index n, Eigen::Index stride, double probability) {
  const auto [place, f] = place_of(probability, static_cast<std::size_t>(n));
  const auto k = static_cast<Eigen::Index>(place);
  return k + 1 < n ? (1 - f) * sorted[k * stride] + f * sorted[(k + 1) * stride] : sorted[k * stride];
}

double quantile(const Eigen::VectorXd& values, double probability) {
  std::vector<double> v = numbers_in(values);
  return quantiles(v, std::array{probability})[0];
}

Estimate summarise(const Eigen::VectorXd& draws) {
  std::vector<double> v = numbers_in(draws);
  Estimate out;
  if (v.empty()) return out;
  const Eigen::Map<const Eigen::ArrayXd> all(v.data(), static_cast<Eigen::Index>(v.size()));
  out.u = v.size() > 1 ? std::sqrt((all - all.mean()).square().sum() / static_cast<double>(v.size() - 1)) : nan;
  const auto [low95, low68, middle, high68, high95] = quantiles(v, band_probabilities);
  out.value = middle;
  out.band68 = {low68, high68};
  out.band95 = {low95, high95};
  return out;
}

}  // namespace sievelight
