// SPDX-License-Identifier: GPL-3.0-or-later
/// Physical constants and the conversions that happen at the edges (readers and writers) only.
/// Inside: q in 1/nm, lengths in nm (samples and detectors: mm), intensity in 1/cm, angles in radians, time in s.
#pragma once

#include <numbers>
#include <string>

namespace sievelight {

inline constexpr double pi = std::numbers::pi;
/// Classical electron radius, m. Source: CODATA 2022, 2.8179403205(13)e-15 m.
inline constexpr double classical_electron_radius_m = 2.8179403205e-15;
/// Avogadro constant, 1/mol. Source: SI 2019, exact.
inline constexpr double avogadro_per_mol = 6.02214076e23;
/// h c in keV nm. Source: SI 2019, exact constants: 12.398419843320026 keV Angstrom.
inline constexpr double hc_keV_nm = 1.2398419843320026;

inline constexpr double radians(double degrees) { return degrees * pi / 180.0; }
inline constexpr double degrees(double radians) { return radians * 180.0 / pi; }
/// Photon energy (keV) to wavelength (nm) and back: lambda = h c / E.
inline constexpr double wavelength_nm_from_energy_keV(double energy_keV) { return hc_keV_nm / energy_keV; }

/// What kind of quantity a unit string must describe.
enum class Quantity { length_mm, length_nm, inverse_length_per_nm, time_s, angle_deg, energy_keV, intensity_per_cm };

/// Factor that turns a number in `unit` into the unit named by `quantity`.
/// Accepts the spellings of NeXus, NXcanSAS and canSAS files ("mm", "A", "Angstrom", "angstroms", "1/A", "1/nm",
/// "nm^-1", "degrees", "s", "ms", "keV", "1/cm", "cm^-1", ...), blanks ignored.
/// Raises InputError naming the unit when it is not one of that kind.
double unit_factor(const std::string& unit, Quantity quantity);

}  // namespace sievelight
