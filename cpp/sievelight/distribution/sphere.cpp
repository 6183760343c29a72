// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/sphere.hpp"

#include "sievelight/base/units.hpp"

#include <cmath>

namespace sievelight {

double sphere_amplitude(double x) {
  const double x2 = x * x;
  // Terms 6 k (-1)^(k+1) x^(2k-2) / (2k+1)!; the first one left out is 2e-17 at x = 0.3.
  if (x2 < 0.09)
    return 1.0 - x2 * (1.0 / 10 - x2 * (1.0 / 280 - x2 * (1.0 / 15120 - x2 * (1.0 / 1330560 - x2 / 172972800))));
  return 3.0 * (std::sin(x) - x * std::cos(x)) / (x2 * x);
}

double sphere_form_factor(double x) {
  const double f = sphere_amplitude(x);
  return f * f;
}

double sphere_volume_nm3(double diameter_nm) { return pi / 6.0 * diameter_nm * diameter_nm * diameter_nm; }

}  // namespace sievelight
