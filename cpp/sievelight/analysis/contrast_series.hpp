// SPDX-License-Identifier: GPL-3.0-or-later
/// One porous solid with its pores full of several fluids: which part of its scattering answers to the fluid.
///   y(rho_f) = c (rho_s - rho_f)^2 + d
/// y is the invariant (c = 2 pi^2 phi (1 - phi)), Porod's constant (c = 2 pi S/V) or the intensity at one q; rho_f the
/// fluid's scattering-length density, rho_s the match point, which is the solid's; d what no fluid removes. The share
/// d / y(0), of the scattering of the empty solid (rho_f = 0), is that of the pores that stay empty. Closed pores,
/// pores that the fluid did not fill, and density fluctuations in the solid or the fluid give such a d alike: a series
/// of fluids cannot tell them apart, and the findings say so. A helium density tells closed pores, a weighed uptake the
/// filling.
/// The parabola itself is fitted, not its square root, so points near or below zero bend nothing. Weights: generalised
/// least squares with the covariance of the results through the causes their curves share. Causes that all curves share
/// (the absolute scale) move the parabola as a whole: they take part in the uncertainty but not in the weights, where
/// their size, known from noisy results, would draw the fit low (simulated, 10 % of scale and 5 % of noise: c 2.1 % low
/// with them, 0.2 +- 0.2 % without). An error of a fluid's density counts through the
/// parabola's slope. The match point's bands are Fieller's; the others normal.
/// X-rays: matching a solid takes a heavy fluid (silica 1.9e11, water 0.94e11, diiodomethane 2.4e11 1/cm2), so the
/// match point is mostly an extrapolation; with the solid's density given (`solid_per_cm2`) two fluids are enough.
/// Neutrons: mixtures of light and heavy water; the same function.
/// Source: H. B. Stuhrmann, Z. Phys. Chem. N. F. 72 (1970) 177 (contrast variation, from memory); E. C. Fieller,
/// J. R. Stat. Soc. B 16 (1954) 175 (from memory); the low fit under a common scale: R. W. Peelle 1987 (from memory).
#pragma once

#include "sievelight/analysis/surface.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// One fluid: the curve measured with it, a result of that curve, and the fluid's density with its u.
struct ContrastPoint {
  Curve curve;
  CurveEstimate result;
  Given fluid_per_cm2;
};

struct ContrastOptions {
  std::optional<Given> solid_per_cm2{};  // rho_s where it is known, from composition and skeletal density
};

struct ContrastSeries {
  Estimate match_per_cm2;      // rho_s
  Estimate open;               // c, per (1/cm2)^2
  Estimate remainder;          // d, in the results' unit
  Estimate share;              // d / y(0)
  Eigen::VectorXd fitted;      // (m)
  Eigen::VectorXd deviation;   // (m) (result - fitted) / u
  Eigen::MatrixXd weights;     // (3, m) d (rho_s, c, d) / d result
  Eigen::MatrixXd covariance;  // (3, 3) of rho_s, c, d
  double chi2 = 0.0;
  int degrees_of_freedom = 0;
  double chi2_probability = 1.0;  // 1 without degrees of freedom
  std::vector<std::string> findings, warnings;
};

/// Raises InputError for fewer than three different fluids (two with the solid's density given) or results that do not
/// belong to their curves; NumericalError where the results do not bend upwards.
ContrastSeries fit_contrast_series(const std::vector<ContrastPoint>& points, const ContrastOptions& options = {});

/// The parabola at fluids' densities (k).
Eigen::VectorXd contrast_parabola(const ContrastSeries& series, const Eigen::VectorXd& fluid_per_cm2);

/// Mean intensity over a q range, as a result for such a series. InputError where no point lies in it.
CurveEstimate mean_intensity(const Curve& curve, Range q_range_per_nm);

}  // namespace sievelight
