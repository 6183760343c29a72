// SPDX-License-Identifier: GPL-3.0-or-later
/// What X-rays meet in matter: attenuation and fluorescence from a composition and a wavelength.
/// Tables: libxrl (T. Schoonjans et al., Spectrochim. Acta B 66 (2011) 776): total cross-sections with photoabsorption,
/// coherent and incoherent scattering; its catalogue of mixtures is NIST's. Away from absorption edges such tables
/// agree with each other within 1 to 2 % at 5 to 25 keV; `attenuation_relative_u` says so where nothing better is
/// known.
#pragma once

#include <string>
#include <vector>

namespace sievelight {

/// Standard uncertainty of a tabulated attenuation coefficient, relative. Source: spread between tables, 1 to 2 %
/// (common practice; tests compare with two other tables).
inline constexpr double attenuation_relative_u = 0.02;

/// A material by name ("water", "air", "polyimide", "silicon", "Si", ...) or by formula ("SiO2", "C22H10N2O5").
struct Material {
  std::string name;
  std::string formula;             // for people; a mixture's is empty
  std::vector<int> elements;       // atomic numbers
  std::vector<double> mass_share;  // of each element, sum 1
  double density_g_per_cm3 = 0.0;  // 0 = not known from the name alone
};
/// Names are tried first (case and blanks do not matter), then the formula. Elements carry their density.
/// InputError for what is neither.
Material material(const std::string& name_or_formula);

/// mu/rho in cm2/g. InputError unless 1 keV <= E <= 100 keV.
double mass_attenuation_cm2_per_g(const Material& material, double wavelength_nm);
/// mu in 1/cm at the material's density or the one given. InputError when neither is known.
double attenuation_per_cm(const Material& material, double wavelength_nm, double density_g_per_cm3 = 0.0);

/// Scattering-length density in 1/cm^2: r_e N_A rho sum w (Z + f' + i f'') / A, w the mass share and A the mass of each
/// element. With a wavelength of 0 the dispersion f', f'' is left out; both parts are then those of free electrons. The
/// imaginary part is positive and absorbs. InputError where no density is known. Source: M. Deutsch, in: J.
/// Als-Nielsen, D. McMorrow, Elements of Modern X-ray Physics (2nd ed., 2011), ch. 3 (from memory); values in the
/// tests.
struct ScatteringLengthDensity {
  double real_per_cm2 = 0.0, imaginary_per_cm2 = 0.0;
};
ScatteringLengthDensity scattering_length_density(const Material& material, double wavelength_nm,
                                                  double density_g_per_cm3 = 0.0);

/// An element that the beam excites.
struct Fluorescence {
  std::string element;
  double edge_keV = 0.0, line_keV = 0.0;
  double share = 0.0;  // fluorescence photons per absorbed photon
};
/// Elements of the composition with a K edge below the photon energy, lines above 1 keV (softer ones do not leave the
/// sample), and more than `least_share` photons per absorbed one; strongest first.
std::vector<Fluorescence> fluorescence(const Material& material, double wavelength_nm, double least_share = 0.01);

}  // namespace sievelight
