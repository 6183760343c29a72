// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/residual_tests.hpp"

#include <gsl/gsl_cdf.h>

#include <cmath>

namespace sievelight {

Runs runs_test(const Eigen::VectorXd& residual) {
  Runs out;
  double above = 0, below = 0, last = 0;
  for (const double r : residual) {
    if (r == 0) continue;
    (r > 0 ? above : below) += 1;
    if (r * last <= 0) ++out.count;
    last = r > 0 ? 1 : -1;
  }
  const double n = above + below;
  if (above < 5 || below < 5) return out;
  out.expected = 1 + 2 * above * below / n;
  const double variance = (out.expected - 1) * (out.expected - 2) / (n - 1);
  out.probability = gsl_cdf_ugaussian_P((static_cast<double>(out.count) + 0.5 - out.expected) / std::sqrt(variance));
  return out;
}

}  // namespace sievelight
