// SPDX-License-Identifier: GPL-3.0-or-later
/// What a curve can tell of a named size distribution, before it is measured.
/// Fisher information F = J^T Sigma^-1 J of the family's parameters with all nuisances (volume, flat level, K q^-p
/// where used); Sigma is the covariance of the curve: pointwise uncertainties and coherent causes. F^-1 bounds every
/// unbiased estimate from below, and the named fit reaches it. A free-form inversion knows less: it assumes no family.
/// Sources: R. A. Fisher, Proc. Camb. Phil. Soc. 22 (1925) 700; H. Cramer, Mathematical Methods of Statistics 1946
/// (both from memory); checked against simulated fits in the tests.
#pragma once

#include "sievelight/distribution/parametric.hpp"

namespace sievelight {

/// A sample that is supposed to be there.
struct NamedSample {
  SizeFamily family = SizeFamily::log_normal;
  Eigen::VectorXd parameters;     // by parameter_names(family)
  double volume = 0.0;            // phi (1 - phi) of dilute particles, phi between hard spheres; or 1/(cm nm^3)
  double contrast_per_cm2 = 0.0;  // 0: `volume` is in 1/(cm nm^3)
  double flat_level = 0.0;        // of the sample, in the curve's unit
  double power_law_k = 0.0;       // K of K q^-p
};

/// (n) intensity of the sample on a curve's bins with its resolution; the curve's own intensities are not used.
/// InputError for parameters that do not belong to the family or a volume not above zero.
Eigen::VectorXd expected_intensity(const Curve& bins, const NamedSample& sample, const KernelOptions& kernel = {});

/// One number with the error that the information leaves.
struct Foreseen {
  double value = 0.0, u = 0.0;
  Eigen::VectorXd influence;  // (n) d value / d intensity of the best estimate
};

/// By name: the family's parameters, x10_nm, x50_nm, x90_nm, mean_nm, relative_width, volume, background and, where
/// asked for, power_law_k.
/// @param curve its bins, resolution, private_u and causes. @param power_law fit K too.
/// InputError as above, and for points without uncertainty; NumericalError when the curve does not determine them all.
std::map<std::string, Foreseen> foresee(const Curve& curve, const NamedSample& sample, bool power_law,
                                        const KernelOptions& kernel = {});

}  // namespace sievelight
