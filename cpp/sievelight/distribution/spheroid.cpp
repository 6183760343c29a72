// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/spheroid.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/orientation.hpp"
#include "sievelight/distribution/sphere.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {

double spheroid_form_factor(double q, double a, double axis_ratio) {
  const double bend = axis_ratio * axis_ratio - 1, k = std::sqrt(std::abs(bend));
  if (k < 1e-7) return sphere_form_factor(q * a);  // differs by less than 1e-14
  const bool prolate = bend > 0;
  const double end = prolate ? std::asinh(k) : std::asin(k);
  const auto integrand = [&](double t) {
    const double stretch = prolate ? std::cosh(t) : std::cos(t);
    return stretch * sphere_form_factor(q * a * stretch);
  };
  // The amplitude squared turns by twice q r, fastest where r changes most: dr/dt = a k there.
  return integrate_phase(integrand, 0.0, end, (2 * q * a * k + 4) * end) / k;
}

double spheroid_surface_ratio(double nu) {
  const double a2 = std::pow(nu, -2.0 / 3.0);  // (equatorial radius over that of the sphere)^2
  const double e = std::sqrt(std::abs(1 - (nu > 1 ? 1 / (nu * nu) : nu * nu)));
  if (e < 1e-4) return 1.0;  // to 2e-9: the ratio departs from 1 with e^4
  if (nu > 1) return 0.5 * a2 * (1 + nu / e * std::asin(e));
  return 0.5 * a2 * (1 + (1 - e * e) / e * std::atanh(e));
}

Shape spheroid(double axis_ratio) {
  if (!(axis_ratio >= 0.01 && axis_ratio <= 100))
    throw InputError(fmt::format("the spheroid's axis ratio is {}.", axis_ratio),
                     "Give polar over equatorial radius, 0.01 to 100; for longer or flatter ones take a cylinder or a "
                     "lamella.");
  const double equator = 0.5 * std::cbrt(1 / axis_ratio);  // per size
  Shape out;
  out.name = fmt::format("spheroid of axis ratio {:g}", axis_ratio);
  out.form_factor = [=](double q, double d) { return spheroid_form_factor(q, equator * d, axis_ratio); };
  out.volume_nm3 = sphere_volume_nm3;
  out.size = "diameter of the sphere of equal volume";
  out.surface_per_size = 6 * spheroid_surface_ratio(axis_ratio);
  out.longest_per_size = 2 * equator * std::max(axis_ratio, 1.0);
  out.packs_as_spheres = true;
  out.tabulate = true;
  return out;
}

}  // namespace sievelight
