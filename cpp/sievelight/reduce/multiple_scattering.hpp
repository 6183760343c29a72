// SPDX-License-Identifier: GPL-3.0-or-later
/// How likely a photon is to be scattered within the measured range, and so to be scattered twice.
/// Cross-section per volume of the measured curve, isotropic about the beam:
///   Sigma = int I dOmega = (lambda^2 / 2 pi) int I(q) q dq   (sin 2theta d2theta = (lambda/2 pi)^2 q dq, exact),
/// probability tau = Sigma d; of the scattered photons about tau/2 are scattered again, which flattens the curve and
/// smears its features. Scattering inside the beamstop or beyond the detector is not in it: a lower bound.
/// Source: geometry of elastic scattering; J. Schelten, W. Schmatz, J. Appl. Cryst. 13 (1980) 385 treat what follows
/// (from memory).
#pragma once

#include "sievelight/curve/curve.hpp"

namespace sievelight {

struct ScatteringProbability {
  double value = 0.0;  // tau, at least
  double u = 0.0;      // from the curve's covariance
};
/// InputError unless the curve is in 1/cm and the path and wavelength are above zero.
ScatteringProbability scattering_probability(const Curve& curve, double path_mm, double wavelength_nm);
/// Above this the report warns: a twentieth of the scattered photons are scattered again (common practice).
inline constexpr double multiple_scattering_above = 0.1;

}  // namespace sievelight
