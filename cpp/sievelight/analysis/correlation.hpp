// SPDX-License-Identifier: GPL-3.0-or-later
/// Correlation function and chord lengths of a two-phase system with sharp walls, without a model of sizes.
///   gamma(r) = (1/Q) integral of q^2 (I - B) sin(qr)/(qr) dq, with gamma(0) = 1 and gamma'(0) = -1 / l_p,
///   g(r) = l_p gamma''(r), the density of chord lengths; l_p = 4 Q / (pi K).
///
/// Parts of the integral: curve_integral.hpp below and in the data; above, the Porod fit in closed form. It takes over
/// at its window's first point where the law holds there (less noise), and at its last where it does not: ripples are
/// then the data's. For gamma'' the kernel is differentiated, not gamma: of K q^-4 beyond x there stays
/// -(K/r) j0'(xr), finite for every r.
///
/// Everything is linear in the intensities once the windows are fixed, so the bands come from the curve's full
/// covariance, B, K, Rg and I0 included. "start of the curve" and "Porod's law" are causes of their own (invariant.hpp,
/// porod.hpp), and so is "shape of the tail": an error of the law's tolerance (and of the ripples in the window, where
/// the law does not hold) that is no factor of K. Bands are point by point; neighbouring r go together. Measured with
/// automatic windows on three systems (exp(-r/a), distances that repeat, log-normal spheres) at 0.3, 1 and 3 % of
/// noise, 200 draws each: 95 % bands of gamma and g hold 92 to 100 %, near 100 % where the laws' tolerance, not the
/// noise, makes the band.
///
/// What it can show: details finer than `resolution_nm` are the law's, not the data's; lengths above pi / q_first are
/// the Guinier continuation's. For separate bodies g is the density of their chords (area 1, mean 4 V/S). In denser
/// systems it mixes chords of both phases and sums of them, keeps area 1 and mean l_p, and may be negative where
/// distances repeat.
///
/// Mean lengths: correlation length 2 int gamma dr = (pi/Q) int q (I - B) dq (3R/2 for a sphere, 2a for exp(-r/a));
/// correlation volume 4 pi int r^2 gamma dr = 2 pi^2 (I0 - B) / Q (the volume of a sphere, 8 pi a^3 for exp(-r/a)).
///
/// Source: P. Debye, A. M. Bueche, J. Appl. Phys. 20 (1949) 518; G. Porod, Kolloid-Z. 124 (1951) 83; J. Mering,
/// D. Tchoubar, J. Appl. Cryst. 1 (1968) 153 (all from memory).
#pragma once

#include "sievelight/analysis/invariant.hpp"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct CorrelationOptions {
  Eigen::VectorXd r_nm{};  // (m) rising, from 0 on; empty: 201 steps from 0 to r_max
  double r_max_nm = 0.0;   // 0: eight Porod lengths, but at most pi / (first q used)
  /// The Porod window's own points count; default: where the law does not hold there.
  std::optional<bool> data_through_window{};
};

/// m numbers found from one curve, each as a CurveEstimate.
struct CurveEstimates {
  Eigen::VectorXd value, u;                       // (m)
  Eigen::MatrixXd influence;                      // (m, n) d value / d intensity
  std::map<std::string, Eigen::VectorXd> causes;  // id -> (m) signed sd of errors that do not come with the curve

  /// (m, 2) lower and upper ends of the central 68 % and 95 % intervals, point by point.
  Eigen::MatrixX2d band68() const;
  Eigen::MatrixX2d band95() const;
};

struct CorrelationFunction {
  Eigen::VectorXd r_nm;           // (m)
  CurveEstimates correlation;     // gamma(r)
  CurveEstimates chords_per_nm;   // g(r)
  CurveEstimate porod_length_nm;  // l_p = 4 Q / (pi K)
  /// -1 / gamma'(0) as gamma shows it from 1 to 2.5 pi / q_max on, extrapolated to r = 0. At r = 0 itself the slope is
  /// -1 / l_p by construction; out there gamma hardly knows K, so this checks l_p. Absent where pi / q_max is above
  /// 0.3 l_p.
  std::optional<CurveEstimate> start_length_nm;
  CurveEstimate correlation_length_nm;
  std::optional<CurveEstimate> correlation_volume_nm3;  // needs Guinier's I0
  double resolution_nm = 0.0;                           // pi / (q where the Porod fit takes over)
  double largest_nm = 0.0;                              // pi / (first q used)
  Invariant total;
  std::vector<std::string> warnings;
};

/// `guinier` and `porod` must come from this curve. Raises InputError when they do not, for a Porod fit with smooth
/// walls (there gamma starts flat and has no chords) and for r that do not rise; NumericalError when K or Q is not
/// positive.
CorrelationFunction correlation_function(const Curve& curve, const std::optional<GuinierFit>& guinier,
                                         const PorodFit& porod, const CorrelationOptions& options = {});

/// Integral of q^2 (K q^-4 + C q^-6) k(q) from x to infinity per K and per C, for k = sin(qr)/(qr) (order 0) and its
/// second derivative to r (order 2). The two numbers that the tail of gamma and gamma'' stands on.
struct TailKernel {
  double per_k = 0.0, per_c = 0.0;
};
TailKernel tail_kernel(int order, double r_nm, double x_per_nm);

}  // namespace sievelight
