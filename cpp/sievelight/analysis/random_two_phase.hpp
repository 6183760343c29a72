// SPDX-License-Identifier: GPL-3.0-or-later
/// The random two-phase model: pores and solid mixed without order, with the correlation gamma(r) = exp(-r/a).
///   I(q) = A / (1 + q^2 a^2)^2 + B,  A = 8 pi a^3 phi (1 - phi) contrast^2,
///   K = A / a^4,  Q = pi A / (4 a^3),  S/V = 4 phi (1 - phi) / a,
///   l_p = a,  l_pore = a / (1 - phi),  l_solid = a / phi.
/// One length carries the whole curve, so a few counts give it precisely, and the model must be seen to hold:
/// `model_holds` asks for chi-square and runs of the residuals with a probability above 0.01 each.
/// Source: P. Debye, H. R. Anderson, H. Brumberger, J. Appl. Phys. 28 (1957) 679 (from memory).
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/surface.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct RandomTwoPhaseOptions {
  std::optional<Range> q_range_per_nm{};  // default: the whole curve
  bool background = true;                 // false: B = 0
};

struct RandomTwoPhase {
  CurveEstimate correlation_nm;  // a, which is the Porod length too
  CurveEstimate amplitude;       // A, the intensity at q = 0 without B, in the curve's unit
  CurveEstimate background;      // B in the curve's unit
  CurveEstimate constant;        // Porod's constant K = A / a^4, in the curve's unit nm^-4
  CurveEstimate invariant;       // Q = pi A / (4 a^3), in the curve's unit nm^-3
  IntensityUnit unit = IntensityUnit::relative;
  Range q_range_per_nm;
  Eigen::Index first = 0, points = 0;
  double chi2 = 0.0;  // of the pointwise uncertainties; NaN when the curve has none
  int degrees_of_freedom = 0;
  double chi2_probability = 0.0;
  double runs_probability = 1.0;  // that noise leaves residuals with as few changes of sign
  bool model_holds = true;
  std::vector<std::string> warnings;
};

/// Raises InputError for fewer than 6 points, and NumericalError where no length between the curve's pi / (4 q_max) and
/// 4 pi / q_min fits with a positive amplitude.
RandomTwoPhase fit_random_two_phase(const Curve& curve, const RandomTwoPhaseOptions& options = {});

/// The model at q (m).
Eigen::VectorXd random_two_phase_intensity(const RandomTwoPhase& fit, const Eigen::VectorXd& q_per_nm);

/// Surface and chords from the model's K and Q: S/V = 4 phi (1 - phi) / a with the porosity. Errors as
/// specific_surface().
SpecificSurface random_two_phase_surface(const Curve& curve, const RandomTwoPhase& fit, const SurfaceOptions& options);

}  // namespace sievelight
