// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/rice.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_roots.h>
#include <gsl/gsl_sf_bessel.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace sievelight {
namespace {

// Density of the length x for true length a; the scaled Bessel function keeps it from overflowing.
double density(double x, void* parameter) {
  const double a = *static_cast<double*>(parameter);
  return x * std::exp(-0.5 * (x - a) * (x - a)) * gsl_sf_bessel_I0_scaled(a * x);
}

struct Target {
  double r, p;
};

// True length at which P(length <= r) is p; that probability falls from a = 0 on.
double length_at(double r, double p) {
  if (rice_cdf(r, 0.0) <= p) return 0.0;
  Target target{r, p};
  gsl_function f{[](double a, void* t) {
                   const auto& [length, probability] = *static_cast<Target*>(t);
                   return rice_cdf(length, a) - probability;
                 },
                 &target};
  const std::unique_ptr<gsl_root_fsolver, void (*)(gsl_root_fsolver*)> solver(
      gsl_root_fsolver_alloc(gsl_root_fsolver_brent), gsl_root_fsolver_free);
  check_gsl(gsl_root_fsolver_set(solver.get(), &f, std::max(0.0, r - 10.0), r + 10.0), "the search of Rice's interval");
  for (int i = 0; i < 100; ++i) {
    check_gsl(gsl_root_fsolver_iterate(solver.get()), "the search of Rice's interval");
    if (gsl_root_fsolver_x_upper(solver.get()) - gsl_root_fsolver_x_lower(solver.get()) < 1e-7) break;
  }
  return gsl_root_fsolver_root(solver.get());
}

}  // namespace

double rice_cdf(double r, double a) {
  quiet_gsl();
  if (!std::isfinite(r) || !std::isfinite(a) || r < 0 || a < 0)
    throw InputError(fmt::format("the lengths are {} and {}.", r, a), "Give both finite, zero or more.");
  // Far from the origin a length is normal about sqrt(a^2 + 1), to 1e-6 in probability at 1e3.
  if (a > 1e3) return gsl_cdf_ugaussian_P(r - std::sqrt(a * a + 1.0));
  const double start = std::max(0.0, a - 10.0), stop = std::min(r, a + 10.0);
  if (stop <= start) return 0.0;
  gsl_function f{&density, &a};
  double value = 0, error = 0;
  std::size_t evaluations = 0;
  gsl_integration_cquad_workspace* room = gsl_integration_cquad_workspace_alloc(100);
  const int status = gsl_integration_cquad(&f, start, stop, 1e-12, 1e-9, room, &value, &error, &evaluations);
  gsl_integration_cquad_workspace_free(room);
  check_gsl(status, "the integral of Rice's distribution");
  return std::clamp(value, 0.0, 1.0);
}

Range rice_interval(double r, double level) {
  if (!(level > 0) || !(level < 1))
    throw InputError(fmt::format("the confidence level is {}.", level), "Give it between 0 and 1.");
  const double tail = 0.5 * (1.0 - level);
  return {length_at(r, 1.0 - tail), length_at(r, tail)};
}

}  // namespace sievelight
