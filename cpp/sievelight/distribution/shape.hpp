// SPDX-License-Identifier: GPL-3.0-or-later
/// What the kernel asks of a particle's shape: how strongly one particle of a given size scatters.
/// A new shape is one function that fills this struct; nothing else in the inversion knows about spheres.
#pragma once

#include <functional>
#include <string>

namespace sievelight {

struct Shape {
  std::string name;
  /// Squared, orientation-averaged amplitude, 1 at q = 0; arguments q (1/nm) and diameter (nm).
  std::function<double(double, double)> form_factor;
  /// Volume of one particle, nm^3; argument diameter (nm).
  std::function<double(double)> volume_nm3;
};

/// Uniform spheres.
Shape sphere();

}  // namespace sievelight
