// SPDX-License-Identifier: GPL-3.0-or-later
/// Porod's law: the sharp inner surface from the tail of the curve, I(q) = K q^-4 + B.
/// K = 2 pi (contrast)^2 S/V; B is whatever flat level the background subtraction left, of either sign.
/// The automatic window ends at the last point and starts as low as the law holds: of all starts, going down until they
/// clearly fail, the lowest for which
///   (a) chi-square has a probability above 0.01, and
///   (b) a next term C q^-6 (what the approach to the tail looks like) is not significant, |C| < 2 u(C),
/// both with `law_tolerance` of K q^-4 in quadrature to the points' u. K and B are then fitted together with C, so that
/// an approach just below notice widens u(K) instead of biasing K. Where no window of `min_points` points and a ratio
/// `least_ratio` of q passes, the law is fitted to the tail above q_max / 2 all the same, `law_holds` is false and a
/// warning says so: its K is an average, not a surface. A given range is fitted with K and B alone.
/// law_tolerance K is part of u(K) as a cause of its own, "Porod's law", which curves of one kind share.
///
/// Richer laws on request (tail_law.hpp): a background that rises with q, as density fluctuations inside the phases
/// give, and walls that are not sharp. Each further number widens u(K). Whether it is needed is told by the drop in
/// chi-square against the plain law with the same points and weights (law_tolerance included): `richer_probability` is
/// the chance of a drop as large if the plain law were true, and `richer_needed` says that it is below 0.01. A law that
/// is not needed is best left out: K gets surer. One that is needed and left out biases K beyond its u, and an
/// automatic window then shrinks until the law passes, so `law_holds` is no proof. To choose between laws, compare them
/// on one window: tail_comparison.hpp.
///
/// Source: G. Porod, Kolloid-Z. 124 (1951) 83 (from memory); q^-6 as the next term: Debye, Anderson, Brumberger,
/// J. Appl. Phys. 28 (1957) 679, 8 pi a^3 phi (1 - phi) contrast^2 / (1 + q^2 a^2)^2, expanded; nested laws: S. S.
/// Wilks, Ann. Math. Stat. 9 (1938) 60 (from memory).
#pragma once

#include "sievelight/analysis/curve_estimate.hpp"
#include "sievelight/analysis/tail_law.hpp"
#include "sievelight/base/range.hpp"
#include "sievelight/curve/curve.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct PorodOptions {
  std::optional<Range> q_range_per_nm{};  // a window of your own instead of the automatic one
  int min_points = 10;
  double least_ratio = 1.3;     // last over first q of an automatic window, at least
  double law_tolerance = 0.01;  // relative error of the law itself that the tests forgive
  TailBackground background = TailBackground::flat;
  Walls walls = Walls::sharp;
};

struct PorodFit {
  CurveEstimate constant;          // K in the curve's unit times nm^-4
  CurveEstimate background;        // B in the curve's unit, at q = 0 where it is not flat
  CurveEstimate constant_per_cm5;  // K in cm^-5 for a curve in 1/cm (cm^-2 per g for cm2/g); NaN for relative units
  CurveEstimate next_term;         // C in the curve's unit times nm^-6; 0 where it was not fitted
  bool next_term_fitted = false;
  TailLaw law;
  CurveEstimate growth;      // F in the curve's unit times nm^2 or nm^4, or b in nm^2 (exponential); 0 for a flat B
  CurveEstimate layer_nm2;   // s = sigma^2, signed; 0 for sharp walls
  double richer_drop = 0.0;  // in chi-square, against the plain law on the same points
  double richer_probability = 1.0;  // of such a drop by chance; 1 for the plain law
  bool richer_needed = false;
  IntensityUnit unit = IntensityUnit::relative;
  Range q_range_per_nm;
  Eigen::Index first = 0;
  Eigen::Index points = 0;
  double chi2 = 0.0;  // of the pointwise uncertainties; NaN when the curve has none
  int degrees_of_freedom = 0;
  double chi2_probability = 0.0;
  double next_term_z = 0.0;  // C / u(C) of a term C q^-6 in this window, law_tolerance included
  bool law_holds = true;     // q^4 (I - B) is flat over the window within its errors
  std::vector<std::string> warnings;
};

/// Raises InputError for a range with too few points and a curve that is too short or unsound, and NumericalError where
/// the numbers of a richer law cannot be found from these points.
PorodFit fit_porod(const Curve& curve, const PorodOptions& options = {});

/// The fit, (K q^-4 + C q^-6) H + B, at q (m).
Eigen::VectorXd porod_intensity(const PorodFit& fit, const Eigen::VectorXd& q_per_nm);
/// Its background B(q) alone, at q (m).
Eigen::VectorXd porod_background(const PorodFit& fit, const Eigen::VectorXd& q_per_nm);

/// sum_i w_i B(q_i), for q and w (m).
CurveSum background_sum(const PorodFit& fit, const Eigen::VectorXd& q_per_nm, const Eigen::VectorXd& weight);
/// Integral of q^2 (K q^-4 + C q^-6) H from `from_per_nm` to infinity.
CurveSum surface_tail(const PorodFit& fit, double from_per_nm);

/// The width sqrt(s) of a smooth wall in nm, bands too; 0 where s or an end of its band is negative. u is of the upper
/// side, (end of the 68 % band - value).
Estimate layer_width_nm(const PorodFit& fit);

}  // namespace sievelight
