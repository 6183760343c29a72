// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/also_fit.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace sievelight {
namespace {

constexpr int places = 9;            // values of a grid
constexpr int enough = 5;            // of which so many carry the answer, or the grid is narrowed
constexpr double carries = 4.5;      // within this of the best ln evidence: three standard deviations
constexpr double negligible = 12.5;  // beyond this, five standard deviations, nothing is left
constexpr int most_narrowings = 6;   // nine values to a range, six times: a millionth of it
constexpr double least_weight = 0.01;

double best_of(const std::vector<WeightedModel>& grid, std::size_t prior) {
  double best = grid.front().model.ln_evidence[prior];
  for (const WeightedModel& w : grid) best = std::max(best, w.model.ln_evidence[prior]);
  return best;
}

// ln evidence below the best, the smaller of the two priors': a value counts where either prior believes in it.
double below_best(const std::vector<WeightedModel>& grid, std::size_t k) {
  double least = INFINITY;
  for (std::size_t prior = 0; prior < prior_orders.size(); ++prior)
    least = std::min(least, best_of(grid, prior) - grid[k].model.ln_evidence[prior]);
  return least;
}

}  // namespace

const char* name(AlsoFit what) {
  switch (what) {
    case AlsoFit::hard_sphere_fraction:
      return "hard_sphere_fraction";
    case AlsoFit::power_exponent:
      return "power_exponent";
    case AlsoFit::nothing:
      break;
  }
  return "nothing";
}

Range allowed(AlsoFit what) { return what == AlsoFit::power_exponent ? Range{3, 4} : Range{0, 0.5}; }

std::vector<WeightedModel> weigh_models(const Range& range, const std::function<ModelFit(double)>& make) {
  std::vector<WeightedModel> grid;
  Range span = range;
  for (int narrowing = 0; narrowing <= most_narrowings; ++narrowing) {
    std::vector<WeightedModel> next(places);
    const double step = (span.high - span.low) / (places - 1);
    for (int k = 0; k < places; ++k) {
      WeightedModel& at = next[static_cast<std::size_t>(k)];
      at.value = span.low + step * k;
      const auto known = std::find_if(grid.begin(), grid.end(), [&](const WeightedModel& w) {
        return std::abs(w.value - at.value) < 1e-9 * (range.high - range.low);
      });
      at.model = known != grid.end() ? std::move(known->model) : make(at.value);
    }
    grid = std::move(next);
    int carrying = 0, first = places, last = -1;
    for (int k = 0; k < places; ++k) {
      const double below = below_best(grid, static_cast<std::size_t>(k));
      if (below < carries) ++carrying;
      if (below < negligible) {
        first = std::min(first, k);
        last = std::max(last, k);
      }
    }
    if (carrying >= enough) break;
    const Range narrower{grid[static_cast<std::size_t>(std::max(first - 1, 0))].value,
                         grid[static_cast<std::size_t>(std::min(last + 1, places - 1))].value};
    if (narrower.high - narrower.low > 0.95 * (span.high - span.low)) break;
    span = narrower;
  }
  for (std::size_t prior = 0; prior < prior_orders.size(); ++prior) {
    const double best = best_of(grid, prior);
    double sum = 0;
    for (WeightedModel& w : grid) sum += w.weight[prior] = std::exp(w.model.ln_evidence[prior] - best);
    double kept = 0;
    for (WeightedModel& w : grid) {
      w.weight[prior] /= sum;
      if (w.weight[prior] < least_weight) w.weight[prior] = 0;
      kept += w.weight[prior];
    }
    for (WeightedModel& w : grid) w.weight[prior] /= kept;
  }
  return grid;
}

}  // namespace sievelight
