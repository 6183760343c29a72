// SPDX-License-Identifier: GPL-3.0-or-later
/// Specific surface and mean chords of a two-phase system with sharp walls, from Porod's constant K and invariant Q.
///   with the contrast:    S/V = K / (2 pi contrast^2), on absolute scale. V is the volume that the thickness of the
///                         absolute scale stands for (the bulk: solid, pores, and the gaps of a powder);
///   without the contrast: S/V = pi phi (1 - phi) K / Q, on any scale. V is the volume in which phi is the pores' share
///                         (the grain, when phi comes from a pore volume and a skeletal density);
///   per gram:             S/m = (S/V) / (rho_skeletal (1 - phi)), or (S/V) / rho_apparent, or straight from a curve
///                         in cm2/g, S/m = K / (2 pi contrast^2);
///   chords:               l_p = 4 Q / (pi K) = 4 phi (1 - phi) V/S, l_pore = l_p / (1 - phi), l_solid = l_p / phi.
/// The surface counts closed pores and inner interfaces, unlike gas adsorption (ISO 20804:2022, scope).
/// Source: G. Porod, Kolloid-Z. 124 (1951) 83; Debye, Anderson, Brumberger, J. Appl. Phys. 28 (1957) 679 (from memory).
#pragma once

#include "sievelight/analysis/invariant.hpp"
#include "sievelight/analysis/porod.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// A number that does not come from the curve, with its standard uncertainty.
struct Given {
  double value = 0.0;
  double u = 0.0;
};

struct SurfaceOptions {
  std::optional<Given> contrast_per_cm2{};            // difference of the scattering-length densities
  std::optional<Given> porosity{};                    // phi, the pores' share of the volume, in (0, 1)
  std::optional<Given> skeletal_density_g_per_cm3{};  // of the solid without its pores
  std::optional<Given> apparent_density_g_per_cm3{};  // of the volume in which phi holds, pores included
};

struct SpecificSurface {
  CurveEstimate porod_length_nm;                // l_p
  std::optional<CurveEstimate> pore_chord_nm;   // l_pore; needs the porosity
  std::optional<CurveEstimate> solid_chord_nm;  // l_solid; needs the porosity
  std::optional<CurveEstimate> from_contrast_m2_per_cm3;
  std::optional<CurveEstimate> from_porosity_m2_per_cm3;
  std::optional<CurveEstimate> m2_per_g;
  std::string volume;       // in words: which volume each S/V is per
  std::string m2_per_g_by;  // in words: how the surface per gram was found
  std::vector<std::string> warnings;
};

/// Causes of the results that do not come with the curve have the ids "contrast", "porosity", "skeletal_density" and
/// "apparent_density". Raises InputError for numbers out of range, and for a contrast with a curve in relative units;
/// NumericalError when K is not positive.
SpecificSurface specific_surface(const Curve& curve, const PorodFit& porod, const Invariant& invariant,
                                 const SurfaceOptions& options = {});

/// Pores of the grains from an intensity per gram: neither thickness nor packing enters.
struct GrainPorosity {
  CurveEstimate porosity;               // phi, the pores' share of the grains' volume
  CurveEstimate pore_volume_cm3_per_g;  // phi / ((1 - phi) rho_skeletal), per gram of solid
};

/// phi = Q rho_skeletal / (2 pi^2 contrast^2) for Q from a curve in cm2/g: the grains hold phi (1 - phi) /
/// (rho_skeletal (1 - phi)) per gram, so phi itself is left and no root has to be chosen. Gaps between grains scatter
/// below the curve's first point, as long as they are much larger than the pores. Causes "contrast" and
/// "skeletal_density". Source: derivation from Q = 2 pi^2 phi (1 - phi) contrast^2 (Porod 1951). Raises InputError for
/// a curve that is not in cm2/g and numbers out of range, NumericalError where phi is not between 0 and 1.
GrainPorosity porosity_per_gram(const Curve& curve, const Invariant& invariant, Given contrast_per_cm2,
                                Given skeletal_density_g_per_cm3);

/// S/V in m2/cm3 from K in cm^-5 alone: K / (2 pi contrast^2), 1 cm^-1 = 1e-4 m2/cm3.
double surface_m2_per_cm3(double porod_constant_per_cm5, double contrast_per_cm2);

}  // namespace sievelight
