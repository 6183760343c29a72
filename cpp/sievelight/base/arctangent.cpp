// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/arctangent.hpp"

#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/units.hpp"

#include <limits>

namespace sievelight {

SIEVELIGHT_EVERY_CPU void arctangents(const double* y, const double* x, Eigen::Index n, double* out) {
  constexpr double beyond_quarter_pi = 6.123233995736765886130e-17 / 2;  // pi/4 as a double falls short by this
  for (Eigen::Index i = 0; i < n; ++i) {
    const double a = x[i] < 0 ? -x[i] : x[i], b = y[i] < 0 ? -y[i] : y[i];
    const double low = a < b ? a : b, high = a < b ? b : a;
    const double ratio = low / (high > 0 ? high : std::numeric_limits<double>::min());
    // In [0, 0.66] as it is; above, from pi/4 on.
    const bool turned = ratio > 0.66;
    const double t = turned ? (ratio - 1) / (ratio + 1) : ratio, z = t * t;
    const double p =
        (((-8.750608600031904122785e-1 * z - 1.615753718733365076637e1) * z - 7.500855792314704667340e1) * z -
         1.228866684490136173410e2) *
            z -
        6.485021904942025371773e1;
    const double q =
        ((((z + 2.485846490142306297962e1) * z + 1.650270098316988542046e2) * z + 4.328810604912902668951e2) * z +
         4.853903996359136964868e2) *
            z +
        1.945506571482613964425e2;
    double angle = t + t * z * (p / q);
    angle = turned ? pi / 4 + (angle + beyond_quarter_pi) : angle;
    angle = a < b ? pi / 2 - angle : angle;
    angle = x[i] < 0 ? pi - angle : angle;
    out[i] = y[i] < 0 ? -angle : angle;
  }
}

}  // namespace sievelight
