// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/count_tails.hpp"

#include <gsl/gsl_cdf.h>

#include <algorithm>

namespace sievelight {
namespace {

unsigned whole(double n) { return static_cast<unsigned>(std::clamp(n, 0.0, 4e9)); }

}  // namespace

double chance_of_more_than(double n, double level, double m) {
  if (n < 0) return 1;
  return gsl_cdf_negative_binomial_Q(whole(n), m / (m + 1), level * m + 0.5);
}

double chance_of_at_most(double n, double level, double m) {
  return gsl_cdf_negative_binomial_P(whole(n), m / (m + 1), level * m + 0.5);
}

}  // namespace sievelight
