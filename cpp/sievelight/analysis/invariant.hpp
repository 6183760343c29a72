// SPDX-License-Identifier: GPL-3.0-or-later
/// The invariant Q = integral of q^2 (I - B) dq from 0 to infinity = 2 pi^2 phi (1 - phi) contrast^2: how much of the
/// two phases there is, whatever their shape. In three parts (curve_integral.hpp):
///   below the first point used   Guinier's law, or a flat start at the level of the first points;
///   the data                     trapezoids between the points, up to the first point of the Porod window;
///   above                        the Porod fit, K / q (and C / 3 q^3 where it has that term; less where its walls are
///                                smooth), the part inside the data told apart from the part beyond.
/// The part below the first point is a guess at the shape: 10 % of it (Guinier) or all of it (flat) is one sd of a
/// cause of its own, "start of the curve".
/// Source: G. Porod, Kolloid-Z. 124 (1951) 83 (from memory); tables of the project, two-phase systems.
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/guinier.hpp"
#include "sievelight/analysis/porod.hpp"
#include "sievelight/base/range.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct Invariant {
  CurveEstimate value;          // Q in the curve's unit times nm^-3
  CurveEstimate value_per_cm4;  // Q in cm^-4 for a curve in 1/cm (cm^-1 per g for cm2/g); NaN for relative units
  IntensityUnit unit = IntensityUnit::relative;
  Range q_range_per_nm;                // the data used as points
  double share_extrapolated_low = 0;   // of Q, below the first point used
  double share_fitted_high = 0;        // of Q, from the Porod law where data lie under it
  double share_extrapolated_high = 0;  // of Q, from the Porod law beyond the last point
  bool guinier_start = true;           // false: flat
  std::vector<std::string> warnings;
};

/// `guinier` and `porod` must come from this curve. Raises InputError when they do not fit the curve or overlap, and
/// NumericalError when Q is not positive.
Invariant invariant(const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod);

/// phi (1 - phi) = Q / (2 pi^2 contrast^2), for a curve in 1/cm. `contrast_per_cm2`: difference of the
/// scattering-length densities; `contrast_u_per_cm2` its standard uncertainty (cause "contrast"). InputError for other
/// units.
CurveEstimate phi_one_minus_phi(const Curve& curve, const Invariant& q, double contrast_per_cm2,
                                double contrast_u_per_cm2 = 0.0);

}  // namespace sievelight
