// SPDX-License-Identifier: GPL-3.0-or-later
/// Is it a peak of order, or one lobe of a form factor's ripples?
/// Bodies of nearly one size ripple: far from q = 0 a sphere, a cylinder or a plate of size R has
///   I = b(q) (1 + a(q) cos(2 R q + phase)),  one period pi / R,
/// with a slow b and a slowly fading a. A lobe is half a period wide and has a dip on each side; a peak of order stands
/// alone on a smooth background. Both are fitted to the same points (2.5 widths on each side) and compared by
/// BIC = chi2 + k ln m. Where neither explains the points, the difference is taken in units of their scatter.
/// What it cannot tell: peaks of order so broad that they overlap into a wave.
/// Source: Lord Rayleigh, Proc. R. Soc. A 84 (1911) 25 (sphere; from memory): P ~ (9 / 2 x^4) (1 + cos 2x + ...);
/// G. Schwarz, Ann. Stat. 6 (1978) 461 (from memory). The error rates are measured in the tests.
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// Lowest chi2 of a ripple on a smooth background: q, intensity, variance (m) of the points around `q0_per_nm`, periods
/// from 1.5 to 2.6 times `fwhm_per_nm` (a lobe is half a period wide; fits give 0.4 to 0.6).
double ripple_chi2(const Eigen::ArrayXd& q_per_nm, const Eigen::ArrayXd& intensity, const Eigen::ArrayXd& variance,
                   double q0_per_nm, double fwhm_per_nm);
/// Numbers that the ripple has fitted.
inline constexpr int ripple_parameters = 8;

/// BIC(ripple) - BIC(peaks) over m points; positive speaks for peaks.
double advantage_over_ripple(double ripple_chi2, double peaks_chi2, int peaks_parameters, Eigen::Index m);

}  // namespace sievelight
