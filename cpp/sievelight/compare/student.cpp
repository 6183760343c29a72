// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/student.hpp"

#include "sievelight/base/gsl.hpp"

#include <gsl/gsl_cdf.h>

#include <cmath>

namespace sievelight {
namespace {

// Above this the t distribution and the normal one differ by less than 1e-6 in t.
constexpr double as_good_as_normal = 1e6;

bool normal(double degrees_of_freedom) { return !(degrees_of_freedom < as_good_as_normal); }

double bracketed_quantile(double p, double degrees_of_freedom) {
  double low = 0.0, high = 1.0;
  while (gsl_cdf_tdist_Q(high, degrees_of_freedom) > 1.0 - p) low = high, high *= 2.0;
  while (high - low > 1e-14 * high) {
    const double middle = 0.5 * (low + high);
    if (middle == low || middle == high) break;
    (gsl_cdf_tdist_Q(middle, degrees_of_freedom) > 1.0 - p ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

}  // namespace

double student_upper(double t, double degrees_of_freedom) {
  return normal(degrees_of_freedom) ? gsl_cdf_ugaussian_Q(t) : gsl_cdf_tdist_Q(t, degrees_of_freedom);
}

double student_quantile(double p, double degrees_of_freedom) {
  if (normal(degrees_of_freedom)) return gsl_cdf_ugaussian_Pinv(p);
  if (p == 0.5) return 0.0;
  if (p < 0.5) return -student_quantile(1.0 - p, degrees_of_freedom);
  quiet_gsl();
  // GSL's inverse agrees with SciPy's to 1e-12, but now and then gives up (at 13.9 degrees of freedom and p = 0.975,
  // for one); its distribution function does not, so the root is then found between brackets.
  const double t = gsl_cdf_tdist_Pinv(p, degrees_of_freedom);
  return std::isfinite(t) ? t : bracketed_quantile(p, degrees_of_freedom);
}

}  // namespace sievelight
