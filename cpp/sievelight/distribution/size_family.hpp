// SPDX-License-Identifier: GPL-3.0-or-later
/// Simple size distributions with a name: volume per ln D, normalised, from one to five numbers.
/// All are volume-weighted in the diameter D. A number-weighted Schulz-Zimm or log-normal of spheres is of the same
/// family: Schulz-Zimm with z + 3 (D^3 moves the exponent), log-normal with the median times exp(3 sigma^2) (Hatch and
/// Choate 1929).
/// Sources: T. Hatch, S. P. Choate, J. Franklin Inst. 207 (1929) 369; M. Kotlarchyk, S.-H. Chen, J. Chem. Phys. 79
/// (1983) 2461 (Schulz-Zimm; both citations from memory, formulas checked in tests).
#pragma once

#include "sievelight/distribution/grid.hpp"

#include <string>
#include <vector>

namespace sievelight {

enum class SizeFamily { monodisperse, log_normal, schulz_zimm, gaussian, two_log_normals };

/// "monodisperse", "log-normal", "Schulz-Zimm", "Gaussian", "two log-normals".
const char* name(SizeFamily family);
const std::vector<SizeFamily>& all_families();

/// Names of a family's parameters in their order: "diameter_nm"; "median_nm", "sigma" (of ln D); "mean_nm",
/// "relative_width" (sd/mean, volume-weighted); of two log-normals "median_1_nm", "sigma_1", "median_2_nm", "sigma_2",
/// "share_1" (of the volume, the smaller size first).
const std::vector<std::string>& parameter_names(SizeFamily family);

/// (m) volume per ln D at the grid's nodes, integral 1 over the hat functions. Widths below one node spacing are not
/// resolved by the grid: a monodisperse size is two neighbouring hats.
Eigen::VectorXd family_density(SizeFamily family, const Eigen::VectorXd& parameters, const SizeGrid& grid);

}  // namespace sievelight
