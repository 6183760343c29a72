// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/hard_spheres.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

void check(const HardSpheres& h) {
  if (!(h.volume_fraction >= 0 && h.volume_fraction <= 0.5))
    throw InputError(fmt::format("the hard spheres fill {} of the volume.", h.volume_fraction),
                     "Give 0 to 0.5: denser hard spheres are a solid, not the liquid of this model.");
  if (!(h.radius_factor > 0) || !std::isfinite(h.radius_factor))
    throw InputError(fmt::format("the hard-sphere radius is {} times the particle's.", h.radius_factor),
                     "Give a positive factor: 1 for bare spheres, more where they keep a distance.");
}

double hard_sphere_structure_factor(double a, double phi) {
  const double gap = 1 - phi, gap4 = gap * gap * gap * gap;
  const double alpha = (1 + 2 * phi) * (1 + 2 * phi) / gap4;
  const double beta = -6 * phi * (1 + 0.5 * phi) * (1 + 0.5 * phi) / gap4, gamma = 0.5 * phi * alpha;
  const double a2 = a * a;
  double g = 0;
  if (a2 < 4) {
    double power = 1;  // (-1)^k A^2k / (2k + 1)!; the first term left out is below 1e-18
    for (int k = 0; k < 13; ++k) {
      g += power * (alpha / (2 * k + 3) + beta / (2 * k + 4) + gamma / (2 * k + 6));
      power *= -a2 / ((2 * k + 2) * (2 * k + 3));
    }
  } else {
    const double s = std::sin(a), c = std::cos(a);
    g = (alpha * (s - a * c) + beta * (2 * s + ((2 - a2) * c - 2) / a) +
         gamma * (-a * c + 4 * ((3 - 6 / a2) * c / a + (1 - 6 / a2) * s + 6 / (a2 * a)))) /
        (a2 * a);
  }
  return 1 / (1 + 24 * phi * g);
}

}  // namespace sievelight
