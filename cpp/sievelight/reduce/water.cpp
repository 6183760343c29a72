// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/water.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

namespace sievelight {
namespace {

constexpr double molar_mass_g = 18.01528, electrons = 10.0;
constexpr double boltzmann_J_per_K = 1.380649e-23;  // SI 2019, exact

void require_liquid(double t) {
  if (!(t >= 0 && t <= 100))
    throw InputError(fmt::format("water at {} C.", t), "Give the temperature of liquid water, 0 to 100 C.");
}

template <std::size_t n>
double polynomial(const double (&c)[n], double x) {
  double out = 0;
  for (std::size_t i = n; i-- > 0;) out = out * x + c[i];
  return out;
}

}  // namespace

double water_density_g_per_cm3(double t) {
  require_liquid(t);
  constexpr double c[] = {999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12};
  return polynomial(c, t) / (1 + 16.879850e-3 * t) / 1000;
}

double water_compressibility_per_Pa(double t) {
  require_liquid(t);
  constexpr double c[] = {50.88496, 0.6163813, 1.459187e-3, 20.08438e-6, -58.47727e-9, 410.4110e-12};
  return polynomial(c, t) / (1 + 19.67348e-3 * t) * 1e-11;
}

double water_intensity_per_cm(double t) {
  const double electrons_per_m3 = electrons * water_density_g_per_cm3(t) * 1e6 * avogadro_per_mol / molar_mass_g;
  const double amplitude = classical_electron_radius_m * electrons_per_m3;
  return amplitude * amplitude * boltzmann_J_per_K * (t + 273.15) * water_compressibility_per_Pa(t) / 100;
}

IntensityStandard water_standard(double t) {
  const double intensity = water_intensity_per_cm(t), relative_u = 0.0032;
  IntensityStandard out;
  out.name = fmt::format("water at {:.4g} C", t);
  out.q_per_nm = Eigen::Vector2d(0.3, 2.5);
  out.intensity_per_cm = Eigen::Vector2d::Constant(intensity);
  out.standard_uncertainty_per_cm = relative_u * out.intensity_per_cm;
  out.relative_u = relative_u;
  out.source =
      "compressibility: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97; D. Orthaber, A. Bergmann, O. Glatter, J. "
      "Appl. Cryst. 33 (2000) 218";
  return out;
}

}  // namespace sievelight
