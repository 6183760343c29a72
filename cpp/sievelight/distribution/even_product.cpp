// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/even_product.hpp"

#include "sievelight/base/units.hpp"
#include "sievelight/distribution/orientation.hpp"

#include <gsl/gsl_integration.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <memory>

namespace sievelight {
namespace {

// Numbers of points for which GSL keeps the rule to full precision.
constexpr std::size_t counts[] = {32, 64, 96, 128, 256, 512, 1024};

// Calls visit(k, P_2k(u)) for k = 0 ... count - 1.
template <typename Visit>
void even_legendre(double u, std::size_t count, const Visit& visit) {
  double before = 1, now = u;
  for (std::size_t k = 0; k < count; ++k) {
    visit(k, before);
    for (std::size_t n = 2 * k + 1; n < 2 * k + 3; ++n) {
      const auto order = static_cast<double>(n);
      const double next = ((2 * order + 1) * u * now - order * before) / (order + 1);
      before = now;
      now = next;
    }
  }
}

}  // namespace

const EvenProduct::Weights& EvenProduct::weights(double phase) {
  // Coefficients of cos(phase u) vanish beyond the order `phase` within a few times its cube root.
  const double wanted = phase + 6 * std::cbrt(phase) + 18;
  const auto* enough = std::find_if(std::begin(counts), std::end(counts),
                                    [&](std::size_t n) { return static_cast<double>(n) >= wanted; });
  const std::size_t n = enough == std::end(counts) ? static_cast<std::size_t>(wanted / 2) * 2 : *enough, half = n / 2;
  const auto found = made_.find(n);
  if (found != made_.end()) return found->second;
  std::vector<double> moment(half, 0.0);
  visit_points(0.0, pi / 2, (phase_ + static_cast<double>(n) + 2) * pi / 2, [&](double angle, double weight) {
    const double u = std::cos(angle), share = weight * std::sin(angle) * f_(u);
    even_legendre(u, half, [&](std::size_t k, double p) { moment[k] += share * p; });
  });
  const std::unique_ptr<gsl_integration_glfixed_table, decltype(&gsl_integration_glfixed_table_free)> table(
      gsl_integration_glfixed_table_alloc(n), gsl_integration_glfixed_table_free);
  Weights out;
  for (std::size_t i = 0; i < n; ++i) {
    double at = 0, weight = 0;
    gsl_integration_glfixed_point(-1.0, 1.0, i, &at, &weight, table.get());
    if (at <= 0) continue;
    double series = 0;
    even_legendre(at, half, [&](std::size_t k, double p) { series += static_cast<double>(4 * k + 1) * p * moment[k]; });
    out.at.push_back(at);
    out.weight.push_back(weight * series);
  }
  return made_.emplace(n, std::move(out)).first->second;
}

}  // namespace sievelight
