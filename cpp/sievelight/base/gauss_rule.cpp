// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/gauss_rule.hpp"

#include <gsl/gsl_integration.h>

#include <algorithm>
#include <array>
#include <memory>

namespace sievelight {

const GaussRule& gauss_rule(std::size_t points) {
  static const std::array<GaussRule, 65> all = [] {
    std::array<GaussRule, 65> made;
    for (std::size_t n = 1; n < made.size(); ++n) {
      const std::unique_ptr<gsl_integration_glfixed_table, decltype(&gsl_integration_glfixed_table_free)> table(
          gsl_integration_glfixed_table_alloc(n), gsl_integration_glfixed_table_free);
      for (std::size_t k = 0; k < n; ++k) {
        double at = 0, weight = 0;
        gsl_integration_glfixed_point(0.0, 1.0, k, &at, &weight, table.get());
        made[n].at.push_back(at);
        made[n].weight.push_back(weight);
      }
    }
    return made;
  }();
  return all[std::clamp<std::size_t>(points, 1, 64)];
}

}  // namespace sievelight
