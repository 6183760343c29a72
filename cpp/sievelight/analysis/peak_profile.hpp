// SPDX-License-Identifier: GPL-3.0-or-later
/// Shapes of one peak, and the width that is the sample's own once the instrument's blur is taken out.
/// With t = (q - q0) / w, w the full width at half of the height:
///   Gaussian G = exp(-4 ln2 t^2), Lorentzian L = 1 / (1 + 4 t^2), pseudo-Voigt (1 - eta) G + eta L.
/// A Gaussian blur of width r leaves of an observed width w: sqrt(w^2 - r^2) for a Gaussian; for a Lorentzian the l of
///   w = 0.5346 l + sqrt(0.2166 l^2 + r^2); for a pseudo-Voigt its Gaussian part loses r^2 and both parts join again.
/// Sources: J. J. Olivero, R. L. Longbothum, J. Quant. Spectrosc. Radiat. Transfer 17 (1977) 233 (width of a Voigt
/// function, 0.02 %); P. Thompson, D. E. Cox, J. B. Hastings, J. Appl. Cryst. 20 (1987) 79 (parts of a pseudo-Voigt).
/// Both from memory; held against a numerical convolution in the test of this file.
#pragma once

#include <Eigen/Core>

namespace sievelight {

enum class PeakProfile { automatic, gaussian, lorentzian, pseudo_voigt };
const char* name(PeakProfile profile);

/// Unit height at t (m); eta 0 is the Gaussian, 1 the Lorentzian.
Eigen::ArrayXd peak_shape(const Eigen::ArrayXd& t, double eta);
/// Derivative with respect to t.
Eigen::ArrayXd peak_slope(const Eigen::ArrayXd& t, double eta);
/// Area over height and width: (1 - eta) sqrt(pi / (4 ln2)) + eta pi / 2.
double peak_area_factor(double eta);

/// The sample's own width; 0 when the blur explains all of it. `profile` must not be automatic.
double own_width(double observed, double blur, PeakProfile profile, double eta);

}  // namespace sievelight
