// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/bands.hpp"

#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/distribution/diagnose.hpp"

#include <algorithm>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr Index lanes = 8;
// Beyond, the network leaves the caches of a core.
constexpr Index most_draws_sorted = 8192;

// Exchanges the numbers of two runs where they are out of order.
SIEVELIGHT_INLINE void put_in_order(double* __restrict low, double* __restrict high, Index n) {
  for (Index i = 0; i < n; ++i) {
    const double a = low[i], b = high[i];
    low[i] = a < b ? a : b;
    high[i] = a < b ? b : a;
  }
}

// Sorts each of eight columns of n numbers; number i of column l stands at i * lanes + l. The network exchanges i with
// i + d for all i whose bit p is that of r: whole runs of p numbers; they are at most d long, so none meets itself.
SIEVELIGHT_EVERY_CPU void sort_lanes(double* v, Index n) {
  Index top = 1;
  while (2 * top < n) top *= 2;
  for (Index p = top; p > 0; p /= 2)
    for (Index q = top, r = 0, d = p;; d = q - p, q /= 2, r = p) {
      for (Index i = r; i < n - d; i += 2 * p)
        put_in_order(v + i * lanes, v + (i + d) * lanes, std::min(p, n - d - i) * lanes);
      if (q == p) break;
    }
}

}  // namespace

Band bands(const Eigen::MatrixXd& draws) {
  const Index rows = draws.rows(), count = draws.cols();
  Band out;
  for (Eigen::VectorXd* v : {&out.median, &out.low68, &out.high68, &out.low95, &out.high95}) v->resize(rows);
  const auto keep = [&](Index i, Range band95, Range band68, double median) {
    out.low95[i] = band95.low;
    out.high95[i] = band95.high;
    out.low68[i] = band68.low;
    out.high68[i] = band68.high;
    out.median[i] = median;
  };
  const auto one = [&](Index i) {
    const Estimate e = summarise(draws.row(i));
    keep(i, e.band95, e.band68, e.value);
  };
  if (count < 1 || count > most_draws_sorted) {
    parallel_for(static_cast<std::size_t>(rows), [&](std::size_t row) { one(static_cast<Index>(row)); });
    return out;
  }
  // Starting a thread costs as much as sorting some ten thousand numbers.
  constexpr Index numbers_for_threads = 200000;
  const auto sort_block = [&](std::size_t block) {
    const Index first = static_cast<Index>(block) * lanes, some = std::min(lanes, rows - first);
    const auto here = draws.middleRows(first, some);
    if (here.hasNaN()) {
      for (Index i = first; i < first + some; ++i) one(i);
      return;
    }
    thread_local std::vector<double> sorted;
    sorted.assign(static_cast<std::size_t>(count * lanes), 0.0);
    for (Index k = 0; k < count; ++k)
      for (Index l = 0; l < some; ++l) sorted[static_cast<std::size_t>(k * lanes + l)] = here(l, k);
    sort_lanes(sorted.data(), count);
    for (Index l = 0; l < some; ++l) {
      const auto at = [&](std::size_t k) {
        return quantile_of_sorted(sorted.data() + l, count, lanes, band_probabilities[k]);
      };
      keep(first + l, {at(0), at(4)}, {at(1), at(3)}, at(2));
    }
  };
  parallel_for(static_cast<std::size_t>((rows + lanes - 1) / lanes), sort_block,
               rows * count < numbers_for_threads ? 1 : 0);
  return out;
}

}  // namespace sievelight
