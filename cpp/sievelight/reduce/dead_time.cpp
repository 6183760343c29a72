// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/dead_time.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>
#include <gsl/gsl_sf_lambert.h>

#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

void require(const DeadTime& d) {
  if (!std::isfinite(d.dead_time_s) || d.dead_time_s < 0 || !(d.u_s >= 0))
    throw InputError(fmt::format("the dead time is {} s with u = {} s.", d.dead_time_s, d.u_s),
                     "Give both in seconds, zero or more.");
}

}  // namespace

double true_rate(double m, const DeadTime& d) {
  require(d);
  const double tau = d.dead_time_s, load = m * tau;
  const bool paralyzable = d.model == DeadTimeModel::paralyzable;
  const double limit = paralyzable ? 1 / std::numbers::e : 1.0;
  if (!(load < limit))
    throw InputError(
        fmt::format("a recorded rate of {:.6g} counts/s is not possible with a {} dead time of {:.4g} s; the most is "
                    "{:.6g} counts/s.",
                    m, paralyzable ? "paralyzable" : "non-paralyzable", tau, limit / tau),
        "Mask the pixel, or check dead_time_s, its model and the exposure.");
  if (load == 0.0) return m;
  return paralyzable ? -gsl_sf_lambert_W0(-load) / tau : m / (1 - load);
}

double recorded_rate(double n, const DeadTime& d) {
  require(d);
  const double load = n * d.dead_time_s;
  return d.model == DeadTimeModel::paralyzable ? n * std::exp(-load) : n / (1 + load);
}

TrueCounts correct_dead_time(double recorded, double exposure_s, const DeadTime& d) {
  const double m = recorded / exposure_s, n = true_rate(m, d);
  const double recorded_load = m * d.dead_time_s, true_load = n * d.dead_time_s;
  if (d.model == DeadTimeModel::non_paralyzable)
    return {n * exposure_s, recorded / ((1 - recorded_load) * (1 - recorded_load)), n * n * exposure_s};
  return {n * exposure_s,
          recorded * (1 - 2 * recorded_load) * std::exp(2 * true_load) / ((1 - true_load) * (1 - true_load)),
          n * n * exposure_s / (1 - true_load)};
}

}  // namespace sievelight
