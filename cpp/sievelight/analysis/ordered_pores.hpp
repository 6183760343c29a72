// SPDX-License-Identifier: GPL-3.0-or-later
/// Pore and wall from a lattice parameter a and the porosity phi of the ordered pores (their share of the volume of
/// pores and wall together; micropores in the wall belong to the wall).
///   slits (lamellar):       pore = phi a, wall = (1 - phi) a.
///   cylinders (p6mm):       phi = pi d^2 / (2 sqrt3 a^2), so d = a sqrt(2 sqrt3 phi / pi); wall = a - d; phi < 0.9069.
///   cages, equal spheres, n a cell:  d = a (6 phi / (n pi))^(1/3); wall between nearest = s a - d; n, s: Pm-3m 1, 1;
///                           Im-3m 2, sqrt3 / 2; Fm-3m 4, 1 / sqrt2. d = s a, where spheres touch, bounds phi.
///   channels of a minimal surface (Ia-3d gyroid, Pn-3m diamond, Im-3m primitive): the wall follows the surface with a
///     constant thickness w, and both sides are pores:  1 - phi = A w / a + (pi / 6) chi (w / a)^3,  with A the surface
///     of a cell of edge 1 and chi its Euler characteristic (Ia-3d 3.0914, -8; Pn-3m 1.9189, -2; Im-3m 2.3451, -4). The
///     pore is no cylinder: d is the hydraulic diameter 4 V / S, S = 2 a^2 (A + (pi / 2) chi (w / a)^2).
/// Refused: cages of Pm-3n (two sizes), cylinders or slits on a cubic lattice, and the like.
/// Sources: p6mm is geometry (used for silicas by Dabadie et al., Microporous Mater. 7 (1996) 147 and Kruk, Jaroniec,
/// Sayari, J. Phys. Chem. B 101 (1997) 583); cages by P. I. Ravikovitch, A. V. Neimark, Langmuir 18 (2002) 1550; the
/// parallel surface is Steiner's formula for zero mean curvature; A in closed form, A(P) = 3 K / K', A(D) = 3 K' / (2
/// K), A(G) = A(P) (1 + (K' / K)^2) / 2, with K, K' complete elliptic integrals of parameters 1/4 and 3/4 (derived from
/// the Bonnet rotation; values agree with A. H. Schoen, NASA TN D-5541 (1970), to 1e-4). Citations from memory.
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/lattice.hpp"
#include "sievelight/analysis/surface.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

enum class PoreModel { automatic, slits, cylinders, cages, channels };
const char* name(PoreModel model);

struct OrderedPores {
  Symmetry symmetry = Symmetry::p6mm;
  PoreModel model = PoreModel::cylinders;
  CurveEstimate pore_nm;  // diameter, gap or hydraulic diameter: see `pore_is`
  CurveEstimate wall_nm;  // thinnest place between neighbours (cylinders, cages), or the wall's thickness
  std::string pore_is;    // in words
  std::string wall_is;
  double largest_porosity = 1.0;  // above it pores of this model would touch
};

/// `automatic`: slits, cylinders, cages (Pm-3m, Im-3m, Fm-3m) or channels (Ia-3d, Pn-3m). `lattice_nm` with its
/// influence on the curve's points, or none. The porosity's u enters as the cause "porosity", as in surface.hpp.
/// InputError for a porosity outside (0, 1) or beyond touching, a lattice parameter that is not positive, or a model
/// that does not belong to the symmetry.
OrderedPores ordered_pores(const CurveEstimate& lattice_nm, Symmetry symmetry, const Given& porosity,
                           PoreModel model = PoreModel::automatic);

/// Surface of a minimal surface in a unit cell of edge 1; InputError for another symmetry than Ia-3d, Pn-3m, Im-3m.
double minimal_surface_area(Symmetry symmetry);

}  // namespace sievelight
