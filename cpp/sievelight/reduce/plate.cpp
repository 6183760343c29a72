// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/plate.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

double checked_log(double transmission) {
  if (!(transmission > 0) || !std::isfinite(transmission))
    throw InputError(fmt::format("the transmission of the plate is {}.", transmission), "It must lie in (0, 1].");
  return std::log(transmission);
}

}  // namespace

double plate_self_absorption(double transmission, double cos_two) {
  const double w = -checked_log(transmission) * (1 / cos_two - 1);
  return w == 0.0 ? 1.0 : -std::expm1(-w) / w;
}

double plate_self_absorption_slope(double transmission, double cos_two) {
  const double s = 1 / cos_two - 1, w = -checked_log(transmission) * s;
  // d ln C / dw = exp(-w)/(1 - exp(-w)) - 1/w = 1/(exp(w) - 1) - 1/w; its series near 0 is -1/2 + w/12.
  const double by_w = std::abs(w) < 1e-4 ? -0.5 + w / 12 : 1 / std::expm1(w) - 1 / w;
  return -s * by_w;
}

double oblique_wall(double transmission, double cos_two, WallPosition walls) {
  const double through = std::exp(checked_log(transmission) * (1 / cos_two - 1));
  switch (walls) {
    case WallPosition::upstream:
      return through;
    case WallPosition::both:
      return 0.5 * (1 + through);
    case WallPosition::ignore:
    case WallPosition::downstream:
      break;
  }
  return 1.0;
}

double oblique_wall_slope(double transmission, double cos_two, WallPosition walls) {
  const double s = 1 / cos_two - 1;
  const double through = std::exp(checked_log(transmission) * s);
  if (walls == WallPosition::upstream) return s * through;
  return walls == WallPosition::both ? 0.5 * s * through : 0.0;
}

double oblique_transmission(double mu_per_cm, double length_mm, double cos_two) {
  return std::exp(-mu_per_cm * length_mm / 10 / cos_two);
}

double sensor_efficiency(double mu_per_cm, double thickness_mm, double cos_incidence) {
  return -std::expm1(-mu_per_cm * thickness_mm / 10 / cos_incidence);
}

double cos_two_theta(double q_per_nm, double wavelength_nm) {
  const double sine = q_per_nm * wavelength_nm / (4 * pi);
  if (!(wavelength_nm > 0) || !(sine < std::sqrt(0.5)))
    throw InputError(
        fmt::format("q = {} 1/nm is not forward scattering at a wavelength of {} nm.", q_per_nm, wavelength_nm),
        "Give the wavelength in nm and q in 1/nm.");
  return 1 - 2 * sine * sine;
}

}  // namespace sievelight
