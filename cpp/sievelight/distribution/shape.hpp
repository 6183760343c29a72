// SPDX-License-Identifier: GPL-3.0-or-later
/// What the kernel asks of a particle's shape: how strongly one particle of a given size scatters.
/// A new shape is one function that fills this struct; nothing else in the inversion knows about spheres. Name, form
/// factor and volume are enough; the rest says what the surface is and makes the kernel faster.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <string>

namespace sievelight {

struct Shape {
  std::string name;
  /// Orientation-averaged squared amplitude over (contrast x volume)^2, so 1 at q = 0 for a uniform particle; arguments
  /// q (1/nm) and size (nm).
  std::function<double(double, double)> form_factor;
  /// Volume of one particle, nm^3; argument size (nm).
  std::function<double(double)> volume_nm3;
  std::string size = "diameter";  // what is called the size
  // Surface per volume = surface_per_size / size + surface_per_nm.
  double surface_per_size = 6.0;
  double surface_per_nm = 0.0;
  /// The longest dimension: longest_per_size * size + longest_nm. The form factor oscillates with q times this.
  double longest_per_size = 1.0;
  double longest_nm = 0.0;
  bool packs_as_spheres = false;  // the hard-sphere interaction makes sense
  /// The form factor depends on q * size only and takes long: the kernel then interpolates it from a table.
  bool tabulate = false;
  /// Optional: form factors of many sizes (rising) at one q, where that is faster than one by one.
  std::function<Eigen::ArrayXd(double, const Eigen::ArrayXd&)> form_factors;
};

/// form_factors() of the shape, one by one where it has none.
Eigen::ArrayXd form_factors(const Shape& shape, double q_per_nm, const Eigen::ArrayXd& size_nm);

/// Uniform spheres.
Shape sphere();

}  // namespace sievelight
