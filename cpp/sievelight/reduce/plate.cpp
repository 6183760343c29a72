// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/plate.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/pixel_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

double checked_log(double transmission) {
  if (!(transmission > 0) || !std::isfinite(transmission))
    throw InputError(fmt::format("the transmission of the plate is {}.", transmission), "It must lie in (0, 1].");
  return std::log(transmission);
}

}  // namespace

double path_excess(double cos_two, double azimuth, double rotation) {
  if (rotation == 0.0) return 1 / cos_two - 1;
  const double sin_two = std::sqrt(std::max(0.0, 1 - cos_two * cos_two));
  const double out = std::sin(rotation) * sin_two * std::cos(azimuth) + std::cos(rotation) * cos_two;
  if (!(out > 0.01 && std::cos(rotation) > 0.01))
    throw InputError(fmt::format("a plate turned by {:.4g} degrees does not let out rays at 2theta = {:.4g} degrees, "
                                 "azimuth {:.4g} degrees.",
                                 degrees(rotation), degrees(std::acos(cos_two)), degrees(azimuth)),
                     "Turn it by less, or mask that side of the detector.");
  return std::cos(rotation) / out - 1;
}

double plate_self_absorption(double transmission, double excess) {
  const double w = -checked_log(transmission) * excess;
  return w == 0.0 ? 1.0 : -std::expm1(-w) / w;
}

double oblique_wall(double transmission, double excess, WallPosition walls) {
  const double through = std::exp(checked_log(transmission) * excess);
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

double exit_wall(double walls_transmission, double excess, WallPosition walls) {
  const double log_t = checked_log(walls_transmission);
  if (walls == WallPosition::downstream) return std::exp(log_t * excess);
  return walls == WallPosition::both ? std::exp(0.5 * log_t * excess) : 1.0;
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
  return cos_of_q(q_per_nm, wavelength_nm);
}

}  // namespace sievelight
