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
// Beyond, the network leaves the first caches and selecting wins.
constexpr Index most_draws_sorted = 512;

// Sorts each of eight columns of n numbers; number i of column l stands at i * lanes + l.
SIEVELIGHT_EVERY_CPU void sort_lanes(double* v, Index n) {
  Index top = 1;
  while (2 * top < n) top *= 2;
  for (Index p = top; p > 0; p /= 2) {
    Index q = top, r = 0, d = p;
    while (true) {
      for (Index i = 0; i < n - d; ++i) {
        if ((i & p) != r) continue;
        double* const low = v + i * lanes;
        double* const high = v + (i + d) * lanes;
        for (Index l = 0; l < lanes; ++l) {
          const double a = low[l], b = high[l];
          low[l] = a < b ? a : b;
          high[l] = a < b ? b : a;
        }
      }
      if (q == p) break;
      d = q - p;
      q /= 2;
      r = p;
    }
  }
}

}  // namespace

Band bands(const Eigen::MatrixXd& draws) {
  const Index rows = draws.rows(), count = draws.cols();
  Band out;
  for (Eigen::VectorXd* v : {&out.median, &out.low68, &out.high68, &out.low95, &out.high95}) v->resize(rows);
  const auto one = [&](Index i) {
    const Estimate e = summarise(draws.row(i));
    out.median[i] = e.value;
    out.low68[i] = e.band68.low;
    out.high68[i] = e.band68.high;
    out.low95[i] = e.band95.low;
    out.high95[i] = e.band95.high;
  };
  if (count < 1 || count > most_draws_sorted) {
    parallel_for(static_cast<std::size_t>(rows), [&](std::size_t row) { one(static_cast<Index>(row)); });
    return out;
  }
  parallel_for(static_cast<std::size_t>((rows + lanes - 1) / lanes), [&](std::size_t block) {
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
      const auto at = [&](double probability) {
        return quantile_of_sorted(sorted.data() + l, count, lanes, probability);
      };
      out.low95[first + l] = at(band_probabilities[0]);
      out.low68[first + l] = at(band_probabilities[1]);
      out.median[first + l] = at(band_probabilities[2]);
      out.high68[first + l] = at(band_probabilities[3]);
      out.high95[first + l] = at(band_probabilities[4]);
    }
  });
  return out;
}

}  // namespace sievelight
