// SPDX-License-Identifier: GPL-3.0-or-later
/// Laws for the tail of a two-phase system: a surface term and a background, fitted by weighted least squares.
///   I(q) = (K q^-4 + C q^-6) H(q) + B(q)
/// Walls:      sharp   H = 1;
///             smooth  H = exp(-s q^2), the phases blend over a layer; s = sigma^2 of the Gaussian that smooths the
///                     sharp step. A layer over which the density changes linearly has the width E = sqrt(12) sigma to
///                     this order (H = 1 - E^2 q^2 / 12). Source: W. Ruland, J. Appl. Cryst. 4 (1971) 70; linear layer:
///                     C. G. Vonk, J. Appl. Cryst. 6 (1973) 81 (both from memory).
/// Background: flat         B;
///             square       B + F q^2, and fourth, B + F q^4: density fluctuations inside the phases, and the feet of
///                          wide-angle peaks. Source: C. G. Vonk, J. Appl. Cryst. 6 (1973) 81 (from memory);
///             exponential  B exp(b q^2). Source: J. Rathje, W. Ruland, Colloid Polym. Sci. 254 (1976) 358 (from
///             memory).
/// s and b are signed in the fit, so that their errors stay normal; a negative s has no meaning as a layer.
#pragma once

#include <Eigen/Core>

namespace sievelight {

enum class TailBackground { flat, square, fourth, exponential };
enum class Walls { sharp, smooth };
const char* name(TailBackground background);
const char* name(Walls walls);

struct TailLaw {
  TailBackground background = TailBackground::flat;
  Walls walls = Walls::sharp;
  bool next_term = false;  // C q^-6, what the approach to the tail looks like

  bool plain() const { return background == TailBackground::flat && walls == Walls::sharp; }
  /// Numbers beyond those of the plain law.
  int extra() const { return (background != TailBackground::flat ? 1 : 0) + (walls == Walls::smooth ? 1 : 0); }
};

/// Coefficients in the order B, K, C, growth (F or b), s, those that the law has, in the units of `q` and `intensity`.
struct TailFit {
  Eigen::VectorXd coefficient;  // (p)
  Eigen::MatrixXd influence;    // (p, m) d coefficient / d I
  Eigen::MatrixXd inverse;      // (p, p) of the normal matrix: their covariance, if `variance` is the points' own
  Eigen::ArrayXd residual;      // (m)
  bool settled = true;          // false: the search for b and s went astray
};

/// q (m) rising, intensity (m), variance (m) > 0.
TailFit fit_tail(const Eigen::ArrayXd& q, const Eigen::VectorXd& intensity, const Eigen::ArrayXd& variance,
                 const TailLaw& law);

/// Integral of exp(-s q^2) q^-2 (power 2) or q^-4 (power 4) from x to infinity; a negative s counts as 0.
double smooth_tail(int power, double s, double x);

}  // namespace sievelight
