// SPDX-License-Identifier: GPL-3.0-or-later
/// From a size distribution to a curve: I(q) = contrast^2 * sum_j x_j A_j(q) + flat level + K q^-p.
/// A_ij = integral of V(D) P(q, D) [S(q, D)] over hat function j in ln D, averaged over q bin i (weight proportional to
/// q, the area of an annulus; with a slit the bin is a stretch of a strip and counts evenly), over the instrument's
/// Gaussian q resolution and, for a line-shaped beam, over the slit. x_j is the volume fraction per ln D at node j
/// (strictly phi(1 - phi), see invert.hpp). Without an interaction particles do not see each other.
/// Averaging over cells and bins rather than sampling points removes a bias of the relative width (measured: 0.003 at
/// 30 cells a decade).
#pragma once

#include "sievelight/curve/curve.hpp"
#include "sievelight/distribution/grid.hpp"
#include "sievelight/distribution/hard_spheres.hpp"
#include "sievelight/distribution/shape.hpp"
#include "sievelight/reduce/slit.hpp"

#include <optional>
#include <string>

namespace sievelight {

/// What the particles are and what the beam does to their curve.
struct KernelOptions {
  Shape shape = sphere();
  std::optional<HardSpheres> interaction;  // default: dilute
  std::optional<SlitProfile> slit;         // of a line-shaped beam; its width beside the curve's q resolution
  double power_exponent = 4.0;             // p: 4 for smooth surfaces of large grains, down to 3 for rough ones
};

/// Everything that depends on q, sizes and shape but not on intensities: compute once for a series of curves.
struct Kernel {
  SizeGrid grid;
  std::string shape;
  Eigen::VectorXd q_per_nm;    // (n)
  Eigen::MatrixXd volume_nm3;  // (n, m) A, in nm^3
  Eigen::VectorXd power_law;   // (n) q^-p as the instrument averages it, nm^p
  KernelOptions made_with;
};

/// Uses the curve's q, bin edges and q resolution only. InputError from check(curve); for a curve of a slit without its
/// profile, an infinite slit, or a slit so long against the particles that their oscillations cannot be followed; for
/// an exponent outside 3 to 4, and for hard spheres of a shape that does not pack as spheres.
Kernel make_kernel(const Curve& curve, const SizeGrid& grid, const KernelOptions& options = {});
/// The same for dilute particles of a shape.
Kernel make_kernel(const Curve& curve, const SizeGrid& grid, const Shape& shape);

/// True when the kernel was made for this curve's q.
bool fits(const Kernel& kernel, const Curve& curve);

/// The model in words, such as "dilute spheres".
std::string model_in_words(const KernelOptions& options);

/// (n) the curve of a distribution x (m): contrast in 1/cm^2 gives 1/cm; contrast 0 leaves x in 1/(cm nm^3).
Eigen::VectorXd scattering_per_cm(const Kernel& kernel, const Eigen::VectorXd& x, double contrast_per_cm2);

/// What one nm^3 at unit volume fraction scatters: contrast^2 * 1e-21 cm^3, in 1/(cm nm^3).
inline double contrast_factor(double contrast_per_cm2) { return contrast_per_cm2 * contrast_per_cm2 * 1e-21; }

}  // namespace sievelight
